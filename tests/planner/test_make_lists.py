"""The list from the books: computed, stored, read, with what was known as of its instant only."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.models import Item, PlantParameters, SpoolSize
from inventory.services.counts import post_count
from stockplan.planner.models import ListedRunSize, MakeList
from stockplan.planner.selectors.make_lists import MakeListNotFoundError, latest_make_list, make_list_detail
from stockplan.planner.services.make_lists import WeekError, compute_make_list
from tests.inventory.builders import TinyPlant, build_sku, clock, local
from tests.planner.conftest import order

AS_OF = local("2027-03-01 10:00")


def _compute(as_of: datetime = AS_OF, **fields: object) -> MakeList:
    return compute_make_list(as_of=as_of, now=as_of, **({"days": 5} | fields))  # type: ignore[arg-type]


def _add_sizes(plant: TinyPlant, count: int) -> None:
    """More sizes of black, each wanted twice."""
    part = plant.black_1kg.spool_size.spool_part
    for number in range(count):
        size = SpoolSize.objects.create(
            code=f"X{number}", net_g=300 + number, tare_g=90, spool_part=part, max_temp_c=70
        )
        build_sku(f"EXTRA-{number}", filament=plant.black, size=size, number=100 + number, value="5.00")
        order(f"X{number}", [(f"EXTRA-{number}", 2)], at="2027-03-01 09:30")


def test_list_makes_what_is_ordered_and_not_there(ordered: TinyPlant) -> None:
    detail = make_list_detail(_compute().id)
    run = detail.runs[0]
    assert (run.rank, run.filament_code, run.line_code, run.place_on_line) == (1, "PLA-BLACK-1.75", "L1", 1)
    assert {size.sku_code: size.spools for size in run.sizes} == {"PLA-BLACK-1000": 6, "PLA-BLACK-250": 2}


def test_list_times_the_run_by_dryer_oven_and_packing(ordered: TinyPlant) -> None:
    run = make_list_detail(_compute().id).runs[0]
    # The only hopper is empty at 10:00 and dries PLA for 4 h; what is wound after 17:00 waits for Tuesday's oven.
    assert (run.hopper_code, run.drying_from) == ("H1", AS_OF)
    assert run.start == local("2027-03-01 14:00")
    assert (run.shelf_at, run.shelf_day) == (local("2027-03-02 09:00"), date(2027, 3, 2))


def test_list_keeps_what_its_runs_are_for(ordered: TinyPlant) -> None:
    run = make_list_detail(_compute().id).runs[0]
    assert str(run.explanation[0]).startswith("Without it, the shelf is expected to run out on Thu 4 Mar of PLA-BLACK-")
    assert run.more_if_dropped == pytest.approx(run.misses_avoided)
    # On Tuesday's shelf instead of Monday's it is still there in time for Thursday.
    assert run.more_a_day_later == pytest.approx(0.0, abs=1e-9)


def test_list_counts_resin_and_concentrate_of_a_run(ordered: TinyPlant) -> None:
    run = make_list_detail(_compute().id).runs[0]
    # 6.5 kg good are 98 % of what is wound; an empty line is not purged; 2 % of the melt is concentrate.
    assert run.resin_kg == pytest.approx(6.5 / 0.98 * 0.98)
    assert run.concentrate_kg == pytest.approx(6.5 / 0.98 * 0.02)
    assert run.purge_kg == 0


def test_list_times_the_run_from_speed_scrap_and_availability(ordered: TinyPlant) -> None:
    run = make_list_detail(_compute().id).runs[0]
    # 55 m/min of 1.75 mm at 1.24 g/cm3 is 9.842 kg/h (continuity; 8.9476 at 50 m/min in the published case).
    kg_h = 8.947648576505427 * 55 / 50
    assert run.run_min == pytest.approx(15 + 6.5 / (kg_h * 0.98 * 0.90) * 60, abs=1)


def test_list_does_not_make_what_is_on_the_shelf_already(ordered: TinyPlant) -> None:
    for sku, spools in (("PLA-BLACK-1000", 6), ("PLA-BLACK-250", 2)):
        post_count(
            sku_code=sku, place_kind="shelf", counted=Decimal(spools), clock=clock("2027-03-01 09:00"), reason=""
        )
    detail = make_list_detail(_compute().id)
    assert detail.runs == ()
    assert {row.filament_code: row.cause for row in detail.not_listed}["PLA-BLACK-1.75"] == "enough"


def test_list_of_a_past_instant_does_not_know_later_orders(ordered: TinyPlant) -> None:
    before = make_list_detail(_compute().id)
    order("LATER", [("PLA-BLACK-1000", 40)], at="2027-03-01 11:00")
    again = make_list_detail(_compute().id)
    assert [(r.filament_code, r.sizes, r.start) for r in again.runs] == [
        (r.filament_code, r.sizes, r.start) for r in before.runs
    ]
    assert MakeList.objects.values("data_digest").distinct().count() == 1


def test_list_of_equal_facts_is_equal(ordered: TinyPlant) -> None:
    first, second = make_list_detail(_compute().id), make_list_detail(_compute().id)
    assert [(run.rank, run.reason, run.sizes) for run in first.runs] == [
        (run.rank, run.reason, run.sizes) for run in second.runs
    ]


def test_list_shows_a_run_without_its_concentrate_as_blocked(ordered: TinyPlant) -> None:
    post_count(
        item_code="MB-BLACK", place_kind="resin_store", lot_code="FULL-MB-BLACK", counted=Decimal(0),
        clock=clock("2027-03-01 09:00"), reason="count",
    )  # fmt: skip
    Item.objects.filter(code="MB-BLACK").update(lead_time_days=2)
    run = make_list_detail(_compute().id).runs[0]
    assert (run.is_blocked, run.line_code, run.misses_avoided) == (True, None, 0)
    # Wanted on Thursday the 4th, two days of delivery.
    assert [(m.item_code, m.buy_by) for m in run.missing] == [("MB-BLACK", date(2027, 3, 2))]


def test_list_adds_up_by_run_size_and_total(ordered: TinyPlant) -> None:
    order("TWO", [("PETG-NAT-1000", 4)], at="2027-03-01 09:00", wanted="2027-03-05")
    detail = make_list_detail(_compute().id)
    assert len(detail.runs) == 2
    assert sum(run.misses_avoided for run in detail.runs) == pytest.approx(detail.misses_without - detail.misses_with)
    assert [sum(size.misses_avoided for size in run.sizes) for run in detail.runs] == pytest.approx(
        [run.misses_avoided for run in detail.runs]
    )


def test_list_totals_are_those_of_the_runs_that_start_that_day(ordered: TinyPlant) -> None:
    detail = make_list_detail(_compute().id)
    total = detail.totals[0]
    assert (total.line_code, total.day, total.runs, total.spools) == ("L1", date(2027, 3, 1), 1, 8)
    assert total.good_kg == pytest.approx(6.5)


def test_list_of_a_week_ends_with_it(plant: TinyPlant) -> None:
    assert _compute(days=None, week="2027-W09").last_day == date(2027, 3, 5)


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"days": None, "week": "2027-9"}, "2027-W08"),
        ({"days": None, "week": "2027-W08"}, "no ship day left"),
        ({"days": 3, "week": "2027-W09"}, "not both"),
    ],
)
def test_list_refuses_a_week_that_cannot_be(plant: TinyPlant, fields: dict[str, object], words: str) -> None:
    with pytest.raises(WeekError, match=words):
        _compute(**fields)
    assert not MakeList.objects.exists()


def test_latest_list_is_the_newest_as_of_the_instant(plant: TinyPlant) -> None:
    older, newer = _compute(), _compute(local("2027-03-02 10:00"))
    assert latest_make_list().id == newer.id
    assert latest_make_list(as_of=local("2027-03-01 12:00")).id == older.id
    with pytest.raises(MakeListNotFoundError):
        latest_make_list(as_of=local("2027-02-01 12:00"))


def test_queries_do_not_grow_with_the_plant(ordered: TinyPlant) -> None:
    _compute()
    with CaptureQueriesContext(
        connection,
    ) as small:
        detail = make_list_detail(_compute(local("2027-03-01 10:01")).id)
    _add_sizes(ordered, 20)
    with CaptureQueriesContext(connection) as large:
        more = make_list_detail(_compute(local("2027-03-01 10:02")).id)
    assert len(more.runs[0].sizes) > len(detail.runs[0].sizes)
    assert len(large) <= len(small)


def test_least_run_of_the_plant_is_the_shortest_on_the_list(ordered: TinyPlant) -> None:
    PlantParameters.objects.update(min_run_minutes=45)
    assert _compute().parameters["min_run_min"] == 45


def test_plant_that_asks_for_the_search_gets_a_list_with_fewer_misses(plant: TinyPlant) -> None:
    # More of both materials than the line can make in time.
    for day, black, small, natural in ((2, 51, 38, 31), (3, 16, 19, 3), (4, 5, 1, 11), (5, 48, 39, 54)):
        lines = [("PLA-BLACK-1000", black), ("PLA-BLACK-250", small), ("PETG-NAT-1000", natural)]
        order(f"DAY-{day}", lines, at="2027-03-01 08:00", wanted=f"2027-03-0{day}")
    of_index = _compute()
    PlantParameters.objects.update(search_moves=6000)
    assert _compute().misses_with < of_index.misses_with


def test_list_of_more_sizes_than_sqlite_takes_alternatives_is_read(ordered: TinyPlant) -> None:
    # sqlite.org/limits.html, "Maximum Depth Of An Expression Tree": 1000.
    listed = _compute().runs.first()
    assert listed is not None
    part = ordered.black_1kg.spool_size.spool_part
    sizes = SpoolSize.objects.bulk_create(
        SpoolSize(code=f"M{n}", net_g=2000 + n, tare_g=90, spool_part=part, max_temp_c=70) for n in range(1001)
    )
    skus = [
        build_sku(f"MANY-{n}", filament=ordered.black, size=size, number=100 + n, value="5")
        for n, size in enumerate(sizes)
    ]
    ListedRunSize.objects.bulk_create(
        ListedRunSize(listed_run=listed, sku=sku, spools=1, free=0, order_up_to=1, misses_avoided=0) for sku in skus
    )
    read = make_list_detail(listed.make_list_id).runs[0].sizes
    assert {sku.item.code for sku in skus} <= {one.sku_code for one in read}
