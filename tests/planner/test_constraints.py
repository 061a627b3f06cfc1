"""Each constraint of the planner's tables: what its service does instead, and IntegrityError past it."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from inventory.models import Line
from stockplan.planner.models import (
    AcceptedFigures,
    AnnouncedDemand,
    ListedRun,
    ListedRunSize,
    MakeList,
    NotListed,
    PlannerInstruction,
    SkuForecast,
    StockTarget,
    StoredReplay,
)
from stockplan.planner.services.announcements import AnnouncementError, announce_demand
from stockplan.planner.services.floor_learning import LearningError, accept_learned
from stockplan.planner.services.forecasts import ListDaysError
from stockplan.planner.services.instructions import InstructionError, forbid_filament, pin_filament, resize_sku
from stockplan.planner.services.make_lists import compute_make_list
from stockplan.planner.services.replay import StretchError, prepare_replay
from tests.constraints import copy_of, refused
from tests.inventory.builders import TinyPlant, clock, local

AS_OF = local("2027-03-01 09:00")
BLACK, KG = "PLA-BLACK-1.75", "PLA-BLACK-1000"
MORNING = clock("2027-03-01 09:00")


@pytest.fixture
def make_list(ordered: TinyPlant) -> MakeList:
    """A stored list with a placed run, and natural left out."""
    return compute_make_list(as_of=AS_OF, now=AS_OF, days=5)


@pytest.mark.clean_error_of("makelist_days_ordered")
def test_list_of_no_days_is_refused_by_the_service(ordered: TinyPlant) -> None:
    with pytest.raises(ListDaysError):
        compute_make_list(as_of=AS_OF, now=AS_OF, days=0)


@pytest.mark.refused_by_database("makelist_days_ordered")
def test_list_that_ends_before_it_begins_is_refused_by_the_database(make_list: MakeList) -> None:
    with refused("makelist_days_ordered"):
        MakeList.objects.update(last_day=date(2027, 1, 1))


@pytest.mark.clean_error_of(
    "skuforecast_one_per_run_and_sku",
    "stocktarget_one_per_run_and_sku",
    "listedrun_rank_unique_in_list",
    "listedrun_place_unique_on_line",
    "listedrun_placed_or_blocked",
    "listedrunsize_one_per_run_and_sku",
    "notlisted_one_per_list_and_filament",
)
def test_list_of_the_same_facts_is_stored_once_more_row_by_row(make_list: MakeList) -> None:
    # The service writes whole lists only: rows of one list never meet a second time.
    again = compute_make_list(as_of=AS_OF, now=AS_OF, days=5)
    assert SkuForecast.objects.filter(forecast_run=again.forecast_run).count() == 3
    assert StockTarget.objects.filter(forecast_run=again.forecast_run).count() == 3
    rows = ListedRun.objects.filter(make_list=again).values_list("rank", "place_on_line", "line__code", "is_blocked")
    assert list(rows) == [(1, 1, "L1", False)]
    assert ListedRunSize.objects.filter(listed_run__make_list=again).count() == 2
    assert NotListed.objects.filter(make_list=again).count() == 1


@pytest.mark.refused_by_database("skuforecast_one_per_run_and_sku", "stocktarget_one_per_run_and_sku")
def test_second_figures_of_a_sku_are_refused_by_the_database(make_list: MakeList) -> None:
    with refused("skuforecast_one_per_run_and_sku"):
        copy_of(SkuForecast.objects.first())
    with refused("stocktarget_one_per_run_and_sku"):
        copy_of(StockTarget.objects.first())


@pytest.mark.refused_by_database("stocktarget_built_ahead_is_part_of_it")
def test_more_built_ahead_than_the_whole_level_is_refused_by_the_database(make_list: MakeList) -> None:
    with refused("stocktarget_built_ahead_is_part_of_it"):
        StockTarget.objects.update(order_up_to=3, built_ahead=4)


@pytest.mark.refused_by_database(
    "listedrun_rank_unique_in_list", "listedrun_place_unique_on_line", "listedrun_placed_or_blocked"
)
def test_run_at_a_taken_rank_or_place_or_at_none_is_refused_by_the_database(make_list: MakeList) -> None:
    with refused("listedrun_rank_unique_in_list"):
        copy_of(ListedRun.objects.get(), place_on_line=2)
    with refused("listedrun_place_unique_on_line"):
        copy_of(ListedRun.objects.get(), rank=2)
    with refused("listedrun_placed_or_blocked"):
        ListedRun.objects.update(line=None)


@pytest.mark.refused_by_database("listedrunsize_one_per_run_and_sku", "notlisted_one_per_list_and_filament")
def test_second_row_of_a_size_or_a_reason_is_refused_by_the_database(make_list: MakeList) -> None:
    with refused("listedrunsize_one_per_run_and_sku"):
        copy_of(ListedRunSize.objects.first())
    with refused("notlisted_one_per_list_and_filament"):
        copy_of(NotListed.objects.get())


@pytest.mark.clean_error_of("plannerinstruction_one_live_per_filament", "plannerinstruction_one_live_size_per_sku")
def test_second_instruction_in_force_is_refused_by_the_service(plant: TinyPlant) -> None:
    pin_filament(filament_code=BLACK, clock=MORNING)
    with pytest.raises(InstructionError, match="in force already"):
        forbid_filament(filament_code=BLACK, clock=MORNING)
    resize_sku(sku_code=KG, spools=5, clock=MORNING)
    with pytest.raises(InstructionError, match="in force already"):
        resize_sku(sku_code=KG, spools=6, clock=MORNING)


@pytest.mark.refused_by_database("plannerinstruction_one_live_per_filament", "plannerinstruction_one_live_size_per_sku")
def test_second_instruction_in_force_is_refused_by_the_database(plant: TinyPlant) -> None:
    with refused("plannerinstruction_one_live_per_filament"):
        copy_of(pin_filament(filament_code=BLACK, clock=MORNING), kind="forbid")
    with refused("plannerinstruction_one_live_size_per_sku"):
        copy_of(resize_sku(sku_code=KG, spools=5, clock=MORNING))


@pytest.mark.refused_by_database(
    "plannerinstruction_one_live_run_per_place", "plannerinstruction_place_is_of_a_pin_on_a_line"
)
def test_place_without_line_or_with_two_runs_is_refused_by_the_database(plant: TinyPlant) -> None:
    pin = pin_filament(filament_code=BLACK, line_code="L1", clock=MORNING)
    PlannerInstruction.objects.update(place=1)
    pin.refresh_from_db()
    with refused("plannerinstruction_one_live_run_per_place"):
        copy_of(pin)
    for wrong in ({"line": None}, {"place": 0}, {"kind": "forbid"}):
        with refused("plannerinstruction_place_is_of_a_pin_on_a_line"):
            PlannerInstruction.objects.update(**wrong)


@pytest.mark.clean_error_of("plannerinstruction_resize_names_its_spools")
def test_size_of_no_sku_or_below_nothing_is_refused_by_the_service(plant: TinyPlant) -> None:
    with pytest.raises(InstructionError, match="must be 0 to"):
        resize_sku(sku_code=KG, spools=-1, clock=MORNING)
    with pytest.raises(InstructionError, match="There is no SKU"):
        resize_sku(sku_code="NO-SUCH", spools=1, clock=MORNING)


@pytest.mark.refused_by_database("plannerinstruction_resize_names_its_spools")
def test_size_without_its_spools_is_refused_by_the_database(plant: TinyPlant) -> None:
    resize_sku(sku_code=KG, spools=5, clock=MORNING)
    with refused("plannerinstruction_resize_names_its_spools"):
        PlannerInstruction.objects.update(spools=None)


@pytest.mark.clean_error_of("storedreplay_days_ordered")
def test_replay_that_ends_before_it_begins_is_refused_by_the_service(plant: TinyPlant) -> None:
    with pytest.raises(StretchError, match="before the first"):
        prepare_replay(first_day=date(2027, 1, 8), last_day=date(2027, 1, 4), now=AS_OF)


@pytest.mark.refused_by_database("storedreplay_days_ordered")
def test_replay_that_ends_before_it_begins_is_refused_by_the_database(plant: TinyPlant) -> None:
    with refused("storedreplay_days_ordered"):
        StoredReplay.objects.create(
            policy="make-list",
            is_curve=False,
            first_day=date(2027, 1, 8),
            last_day=date(2027, 1, 4),
            computed_at=AS_OF,
            conditions=[],
            rows=[],
        )


@pytest.mark.clean_error_of(
    "announceddemand_days_ordered",
    "announceddemand_is_named",
    "announceddemand_factor_in_range",
    "announceddemand_one_scope",
)
@pytest.mark.parametrize(
    "wrong",
    [
        {"last_day": date(2027, 2, 28)},
        {"name": " "},
        {"factor": Decimal("0.04")},
        {"factor": Decimal("20.01")},
        {"material_code": "PLA", "filament_code": BLACK},
    ],
    ids=["days", "name", "least", "most", "scope"],
)
def test_announcement_that_makes_no_sense_is_refused_by_the_service(plant: TinyPlant, wrong: dict[str, Any]) -> None:
    sound = {"name": "Fair", "first_day": date(2027, 3, 1), "last_day": date(2027, 3, 5), "factor": Decimal(2)}
    with pytest.raises(AnnouncementError):
        announce_demand(**(sound | wrong), clock=MORNING)
    assert not AnnouncedDemand.objects.exists()


@pytest.mark.refused_by_database(
    "announceddemand_days_ordered",
    "announceddemand_is_named",
    "announceddemand_factor_in_range",
    "announceddemand_one_scope",
)
def test_announcement_that_makes_no_sense_is_refused_by_the_database(plant: TinyPlant) -> None:
    days = {"first_day": date(2027, 3, 1), "last_day": date(2027, 3, 5)}
    announce_demand(name="Fair", factor=Decimal(2), filament_code=BLACK, clock=MORNING, **days)
    with refused("announceddemand_days_ordered"):
        AnnouncedDemand.objects.update(last_day=date(2027, 2, 28))
    with refused("announceddemand_is_named"):
        AnnouncedDemand.objects.update(name="")
    with refused("announceddemand_factor_in_range"):
        AnnouncedDemand.objects.update(factor=Decimal("0.04"))
    with refused("announceddemand_factor_in_range"):
        AnnouncedDemand.objects.update(factor=Decimal("20.01"))
    with refused("announceddemand_one_scope"):
        AnnouncedDemand.objects.update(material=plant.black.material)


@pytest.mark.clean_error_of("acceptedfigures_learned_before")
def test_figures_of_an_instant_to_come_are_refused_by_the_service(plant: TinyPlant) -> None:
    with pytest.raises(LearningError, match="an instant to come"):
        accept_learned(line_code="L1", as_of=AS_OF, now=AS_OF - timedelta(minutes=1), accepted_by=None)


@pytest.mark.refused_by_database("acceptedfigures_learned_before")
def test_acceptance_of_what_was_learned_later_is_refused_by_the_database(plant: TinyPlant) -> None:
    line, share = Line.objects.get(code="L1"), Decimal("0.5")
    figures = {"availability_before": share, "availability": share, "scrap_share_before": share, "scrap_share": share}
    with refused("acceptedfigures_learned_before"):
        AcceptedFigures.objects.create(
            line=line, accepted_at=AS_OF, learned_to=AS_OF + timedelta(minutes=1), runs=1, **figures
        )
