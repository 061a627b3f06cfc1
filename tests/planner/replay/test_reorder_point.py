"""The plain rule: levels by the textbook formula, the shortest cover first."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from stockplan.planner.core.facts import PlanFacts
from stockplan.planner.core.floor import TimedRun
from stockplan.planner.core.replay.reorder_point import SIX_SETTINGS, ReorderPointPolicy
from tests.planner.replay.small_stretch import HORIZON, forecasts
from tests.planner.small_facts import MONDAY, facts, sku

RULE = ReorderPointPolicy(safety_factor=1.0, lot_days=3.0)
MORNING = forecasts(daily=1.0)(MONDAY)


def _facts(**shelf: int) -> PlanFacts:
    return facts(days=HORIZON, skus=tuple(sku(code, days=HORIZON, shelf=n) for code, n in shelf.items()))


def _runs(plant: PlanFacts, rule: ReorderPointPolicy = RULE) -> list[tuple[str, tuple[int, ...]]]:
    runs: list[TimedRun] = list(rule(plant, MORNING))
    return [(run.lot.filament, run.lot.spools) for run in runs]


def test_levels_follow_the_textbook_formula() -> None:
    # s = mean + k sd over lead time and review (Silver, Pyke & Peterson 1998, from memory): Poisson 1 a day over
    # 2 + 1 days, 3 + 1 x sqrt(3) = 4.73, rounded up 5; S = 4.73 + 3 days of 1 = 7.73, rounded up 8.
    point, level = RULE.levels(MORNING)
    np.testing.assert_array_equal(point, [5, 5])
    np.testing.assert_array_equal(level, [8, 8])


def test_factor_multiplies_both_levels() -> None:
    point, level = replace(RULE, stock_factor=2.0).levels(MORNING)
    np.testing.assert_array_equal(point, [10, 10])  # 9.46
    np.testing.assert_array_equal(level, [16, 16])  # 15.46


def test_sku_at_its_reorder_point_is_filled_up_to_its_level() -> None:
    assert _runs(_facts(A=5, B=6)) == [("A", (3,))]


def test_shortest_cover_runs_first() -> None:
    assert _runs(_facts(A=3, B=1)) == [("B", (7,)), ("A", (5,))]


def test_open_lines_lower_the_position() -> None:
    plant = _facts(A=6, B=6)
    owed = tuple(replace(s, late=4) if s.code == "A-1000" else s for s in plant.skus)
    assert _runs(replace(plant, skus=owed)) == [("A", (6,))]


def test_made_to_order_sku_is_made_as_far_as_it_is_owed() -> None:
    none = forecasts()(MONDAY)
    owed = facts(days=HORIZON, skus=(sku("A", days=HORIZON, late=2), sku("B", days=HORIZON)))
    assert [run.lot.spools for run in RULE(owed, none)] == [(2,)]


def test_six_settings_differ() -> None:
    levels = {tuple(int(row[0]) for row in setting.levels(MORNING)) for setting in SIX_SETTINGS}
    assert len(levels) == len(SIX_SETTINGS) == 6


@pytest.mark.parametrize("hours", [0, 1])
def test_input_order_does_not_matter(hours: int) -> None:
    plant = _facts(A=3, B=1)
    turned = replace(plant, skus=plant.skus[::-1], filaments=plant.filaments[::-1])
    assert _runs(turned) == _runs(plant)
