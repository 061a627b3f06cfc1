"""Neighbours on a line, and lots laid out in a given order. A kilogram winds in 20 minutes, a start-up takes 10."""

from __future__ import annotations

from dataclasses import replace

import pytest

from stockplan.planner.core.facts import HopperFacts
from stockplan.planner.core.finishing import Arrival
from stockplan.planner.core.floor import Lot, TimedRun, Timing
from stockplan.planner.core.opening import opening_of
from stockplan.planner.core.plant import Plant, plant_of
from stockplan.planner.core.sequence import joined, lay_out
from stockplan.planner.core.supply import supply_state
from tests.planner.small_facts import facts, line, sku

A6, A4, B3 = Lot("A", (6,)), Lot("A", (4,)), Lot("B", (3,))
SMALL_HOPPER = HopperFacts("H1", 8.0, is_continuous=False, clean_min=0, holds_material=None, dried_since=None)


def _plant(**fields: object) -> Plant:
    return plant_of(facts(**fields).in_order())  # type: ignore[arg-type]


def _runs(*lots: Lot, idle_min: int = 0) -> list[TimedRun]:
    """Runs of two hours each on L1 with idle time between, all on the shelf on the second day."""
    starts = [at * (120 + idle_min) for at in range(len(lots))]
    return [
        TimedRun(lot, "L1", Timing(start, start, start + 120, None, 0, 120, None), None, _on_shelf(lot, 1))
        for lot, start in zip(lots, starts, strict=True)
    ]


def _on_shelf(lot: Lot, day: int) -> tuple[tuple[Arrival, ...], ...]:
    return ((Arrival(1440 * day, day, sum(lot.spools)),),)


def test_neighbours_of_one_filament_become_one_run() -> None:
    assert joined(_plant(), _runs(A6, A4, B3)) == {"L1": [Lot("A", (10,)), B3]}


def test_runs_with_another_filament_between_them_stay_two() -> None:
    assert joined(_plant(), _runs(A6, B3, A4)) == {"L1": [A6, B3, A4]}


def test_runs_with_idle_hours_between_them_stay_two() -> None:
    assert joined(_plant(), _runs(A6, A4, idle_min=300)) == {"L1": [A6, A4]}


def test_neighbours_over_a_night_become_one_run() -> None:
    # From 22:00 to 06:00 the line does not work.
    evening = replace(_runs(A6)[0], timing=Timing(840, 840, 960, None, 0, 120, None))
    morning = replace(_runs(A4)[0], timing=Timing(1440, 1440, 1560, None, 0, 120, None))
    assert joined(_plant(), [evening, morning]) == {"L1": [Lot("A", (10,))]}


def test_neighbours_stay_two_runs_when_the_first_is_on_the_shelf_a_day_earlier() -> None:
    first, second = _runs(A6, A4)
    assert joined(_plant(), [first, replace(second, arrivals=_on_shelf(A4, 2))]) == {"L1": [A6, A4]}


def test_pinned_neighbour_stays_as_the_planner_wants_it() -> None:
    pinned = Lot("A", (4,), is_pinned=True)
    assert joined(_plant(), _runs(A6, pinned)) == {"L1": [A6, pinned]}


def test_neighbours_stay_two_runs_when_no_hopper_dries_resin_for_both() -> None:
    assert joined(_plant(hoppers=(SMALL_HOPPER,)), _runs(A6, A4)) == {"L1": [A6, A4]}


def test_lots_are_laid_out_one_after_the_other_with_their_changeover() -> None:
    plant = _plant(lines=(line(makes=("A", "B"), holds="A"),))
    opening = opening_of(plant)
    runs = lay_out(opening.floor.copy(), supply_state(plant, opening), {"L1": [A6, B3]})
    # A from 06:00: 10 + 6 x 20 = 130 min. Then 12 min changeover and 10 + 3 x 20 = 70 min of B.
    assert [(r.timing.start_min, r.timing.end_min) for r in runs] == [(0, 130), (130, 130 + 12 + 70)]


@pytest.mark.parametrize(("late", "kept"), [(0, ["A"]), (1, ["A", "B"])])
def test_lot_after_the_last_day_is_left_off_unless_it_is_late(late: int, kept: list[str]) -> None:
    # One day of 16 h: 48 spools and the start-up are more than fill it.
    plant = _plant(list_days=1, skus=(sku("A"), sku("B", late=late)))
    opening = opening_of(plant)
    runs = lay_out(opening.floor.copy(), supply_state(plant, opening), {"L1": [Lot("A", (48,)), B3]})
    assert [run.lot.filament for run in runs] == kept
