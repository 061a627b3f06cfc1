"""The finish of a run: 38 good and 1 scrap spool of 1 kg, 20 of 250 g, 1.5 kg purge, let-down 2 %.

By hand (design section 5): out = 38 + 1 + 5 + 1.5 = 45.5 kg; concentrate = 45.5 x 0.02 = 0.91 kg; resin = 44.59 kg;
39 and 20 empty spools.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal

import pytest

from inventory.errors import InvalidInputError, NotFoundError
from inventory.models import Allocation, Lot, MovementLine, OrderLine, PlantParameters, Run, RunOutput
from inventory.services.run_records import RunStateError
from inventory.services.runs import finish_run
from inventory.services.scrap import scrap
from tests.inventory.books.floor import KG, QUARTER, finished, natural_started, released, started
from tests.inventory.books.reading import awaited, lying
from tests.inventory.builders import TinyPlant, clock, put_in_store

pytestmark = pytest.mark.django_db
Ordering = Callable[..., int]


def _finish(run: Run, **report: object) -> None:
    body = {"good": {KG: 1}, "scrap": {}, "real_minutes": Decimal(60), "purge_kg": Decimal(0)}
    finish_run(run_code=run.code, clock=clock("2027-03-01 14:00"), **{**body, **report})


def test_finish_draws_resin_and_concentrate_by_the_let_down(stores: TinyPlant) -> None:
    finished()
    material, colour = stores.black.material, stores.black.colour
    assert lying(material.resin_item, "resin_store") == Decimal("155.41")
    assert lying(colour.concentrate_item, "resin_store") == Decimal("9.09")


def test_finish_draws_an_empty_spool_for_each_that_was_wound(stores: TinyPlant) -> None:
    finished()
    assert lying(stores.black_1kg.spool_size.spool_part, "resin_store") == 461
    assert lying(stores.black_250g.spool_size.spool_part, "resin_store") == 480


def test_finish_of_natural_draws_no_concentrate(stores: TinyPlant) -> None:
    _finish(natural_started(), good={"PETG-NAT-1000": 5}, purge_kg=Decimal("0.25"))
    assert lying(stores.natural.material.resin_item, "resin_store") == Decimal("194.75")
    assert lying(stores.black.colour.concentrate_item, "resin_store") == 10


def test_finish_draws_the_oldest_lot_first(stores: TinyPlant) -> None:
    resin = stores.black.material.resin_item
    put_in_store(resin, "20", lot_code="OLDER", at="2027-02-01 08:00")
    finished()
    drawn = MovementLine.objects.filter(item=resin, movement__kind="run_consumption")
    assert dict(drawn.values_list("lot__code", "quantity")) == {"OLDER": 20, "LOT-PLA": Decimal("24.59")}


def test_finish_winds_one_lot_per_sku_that_waits_for_the_oven(stores: TinyPlant) -> None:
    outcome = finished()
    assert outcome.lot_codes == (f"{outcome.run.code}-{KG}", f"{outcome.run.code}-{QUARTER}")
    assert (lying(stores.black_1kg, "wound"), lying(stores.black_250g, "wound")) == (38, 20)


def test_finish_books_scrap_spools_as_scrap(stores: TinyPlant) -> None:
    finished()
    assert lying(stores.black_1kg, "scrap") == 1


def test_finish_balances_its_masses(stores: TinyPlant) -> None:
    outcome = finished()
    assert (outcome.mass_in_kg, outcome.mass_out_kg, outcome.is_mass_flagged) == (
        Decimal("45.5"),
        Decimal("45.5"),
        False,
    )


def test_finish_awaits_the_good_spools(stores: TinyPlant) -> None:
    run = finished().run
    assert (awaited(run.code, stores.black_1kg), awaited(run.code, stores.black_250g)) == (38, 20)


def test_finish_after_the_oven_load_moves_the_shelf_day(stores: TinyPlant) -> None:
    finished(at="2027-03-01 18:00")
    assert RunOutput.objects.first().shelf_day == date(2027, 3, 3)


def test_finish_with_fewer_good_spools_promises_the_latest_order_anew(stores: TinyPlant, order: Ordering) -> None:
    first = order("A", {stores.black_1kg: 25}, at="2027-03-01 06:30")
    order("B", {stores.black_1kg: 15}, at="2027-03-01 06:40")
    outcome = finished(good={KG: 30}, scrap={})
    held = {row.order_line.order_id: row.quantity for row in Allocation.objects.filter(end="")}
    assert (held[first], sum(held.values())) == (25, 30)
    assert [(change.old_day, change.new_day) for change in outcome.promise_changes] == [(date(2027, 3, 2), None)]


def test_finish_with_more_good_spools_serves_an_order_that_waits(stores: TinyPlant, order: Ordering) -> None:
    order("A", {stores.black_1kg: 44}, at="2027-03-01 06:30")
    finished(good={KG: 44}, scrap={})
    assert OrderLine.objects.get().promised_day == date(2027, 3, 2)


def test_finish_accepts_a_sku_that_nobody_planned(stores: TinyPlant) -> None:
    run = started(spools={KG: 40})
    _finish(run, good={KG: 10, QUARTER: 7})
    output = RunOutput.objects.get(run=run, sku=stores.black_250g)
    assert (output.planned, output.good, output.awaited) == (0, 7, 7)


def test_finish_with_nothing_wound_leaves_no_lots(stores: TinyPlant) -> None:
    run = started()
    _finish(run, good={}, scrap={})
    assert not Lot.objects.filter(run=run).exists()
    assert awaited(run.code, stores.black_1kg) == 0


def test_finish_is_accepted_and_flagged_when_the_books_hold_too_little_resin(plant: TinyPlant) -> None:
    put_in_store(plant.black.material.resin_item, "40", lot_code="LOT-PLA")
    put_in_store(plant.black.colour.concentrate_item, "10", lot_code="LOT-MB")
    outcome = finished()
    # 44.59 kg used, 40 in the books: 4.59 kg unexplained, so 40 + 0.91 kg in against 45.5 kg out.
    assert outcome.shortfalls["RESIN-PLA"] == Decimal("4.59")
    assert (outcome.mass_in_kg, outcome.is_mass_flagged) == (Decimal("40.91"), True)
    assert lying(plant.black.material.resin_item, "count_difference") == Decimal("-4.59")


def test_finish_is_flagged_even_by_a_shortfall_within_the_tolerance(plant: TinyPlant) -> None:
    put_in_store(plant.black.material.resin_item, "44.5", lot_code="LOT-PLA")
    put_in_store(plant.black.colour.concentrate_item, "10", lot_code="LOT-MB")
    PlantParameters.objects.update(mass_tolerance_share="0.02")
    assert finished().is_mass_flagged is True


def test_finish_draws_what_was_weighed(stores: TinyPlant) -> None:
    finished(resin_kg="45", concentrate_kg="0.88")
    assert lying(stores.black.material.resin_item, "resin_store") == Decimal(155)
    assert lying(stores.black.colour.concentrate_item, "resin_store") == Decimal("9.12")


@pytest.mark.parametrize(
    ("resin_kg", "is_flagged"),
    [
        # 45.5 kg came out, 0.91 kg of concentrate went in. The tolerance is 2 % of what went in, so from
        # 45.5 / 1.02 = 44.608 kg to 45.5 / 0.98 = 46.429 kg of both: resin from 43.698 to 45.518 kg.
        ("43.697", True),
        ("43.698", False),
        ("45.518", False),
        ("45.519", True),
    ],
)
def test_mass_check_flags_a_run_whose_weighed_resin_is_off(stores: TinyPlant, resin_kg: str, is_flagged: bool) -> None:
    outcome = finished(resin_kg=resin_kg)
    assert outcome.mass_in_kg == Decimal(resin_kg) + Decimal("0.91")
    assert (outcome.mass_out_kg, outcome.is_mass_flagged) == (Decimal("45.5"), is_flagged)


@pytest.mark.parametrize("report", [{"resin_kg": "-0.001"}, {"resin_kg": "0.0001"}, {"concentrate_kg": "100000.001"}])
def test_finish_with_an_absurd_weight_names_it_and_changes_nothing(stores: TinyPlant, report: dict[str, str]) -> None:
    with pytest.raises(InvalidInputError, match=next(iter(report))) as caught:
        finished(**report)
    assert caught.value.pointer == f"/{next(iter(report))}"
    assert Run.objects.get().state == "started"


def test_finish_of_natural_with_concentrate_is_refused(stores: TinyPlant) -> None:
    run = natural_started()
    with pytest.raises(InvalidInputError, match="has no concentrate"):
        _finish(run, good={"PETG-NAT-1000": 5}, concentrate_kg=Decimal("0.1"))


def test_missing_empty_spools_are_noted_and_do_not_touch_the_mass_check(stores: TinyPlant) -> None:
    scrap(
        item_code="SPOOL-S1000",
        quantity=Decimal(500),
        place_kind="resin_store",
        clock=clock("2027-03-01 07:00"),
        reason="wet",
    )
    outcome = finished()
    assert (outcome.shortfalls, outcome.is_mass_flagged) == ({"SPOOL-S1000": 39}, False)


@pytest.mark.parametrize(
    ("report", "error", "message"),
    [
        ({"good": {"PETG-NAT-1000": 1}}, InvalidInputError, "is not wound from PLA-BLACK-1.75"),
        ({"good": {"PLA-PINK-1000": 1}}, NotFoundError, "SKU 'PLA-PINK-1000'"),
        ({"good": {KG: -1}}, InvalidInputError, "-1 spools"),
        ({"scrap": {KG: 100_001}}, InvalidInputError, "100001 spools"),
        ({"purge_kg": Decimal(-1)}, InvalidInputError, "purge_kg -1 must be"),
        ({"purge_kg": Decimal("0.0001")}, InvalidInputError, "whole grams"),
        ({"real_minutes": Decimal(0)}, InvalidInputError, "Real minutes 0"),
    ],
)
def test_finish_is_refused_and_writes_nothing(
    stores: TinyPlant, report: dict[str, object], error: type[Exception], message: str
) -> None:
    run = started()
    with pytest.raises(error, match=message):
        _finish(run, **report)
    assert (Run.objects.get().state, lying(stores.black_1kg, "wound")) == ("started", 0)


def test_finish_is_refused_before_the_start(stores: TinyPlant) -> None:
    run = started()
    with pytest.raises(InvalidInputError, match=r"is before run R\d+ was started at"):
        finish_run(
            run_code=run.code,
            good={KG: 1},
            scrap={},
            real_minutes=Decimal(60),
            purge_kg=Decimal(0),
            clock=clock("2027-03-01 07:59"),
        )


def test_finish_is_refused_of_a_run_that_has_not_started(stores: TinyPlant) -> None:
    with pytest.raises(RunStateError, match="only a started run can be finished"):
        _finish(released())


def test_finish_is_refused_twice(stores: TinyPlant) -> None:
    run = finished().run
    with pytest.raises(RunStateError, match="only a started run can be finished"):
        _finish(run)
