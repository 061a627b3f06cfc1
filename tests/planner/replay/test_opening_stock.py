"""Stock on the first morning where the books have none, by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from stockplan.planner.core.replay.opening_stock import spread_levels
from tests.planner.replay.small_stretch import HORIZON, forecasts
from tests.planner.small_facts import MONDAY, facts, sku

# Ten a day, three days between runs: 30 sold from one run to the next.
MORNING = forecasts(daily=10.0, order_up_to=50)(MONDAY)


def test_filaments_are_spread_over_their_intervals() -> None:
    # Golden ratio steps: 0.5 x 0.618 = 0.309 and 1.5 x 0.618 = 0.927 of 30 are sold.
    assert spread_levels(facts(days=HORIZON), MORNING) == {"A-1000": 50 - 9, "B-1000": 50 - 27}


def test_sizes_of_a_filament_stand_at_the_same_place() -> None:
    both = facts(codes=("A",), days=HORIZON, skus=(sku("A", days=HORIZON), sku("A", days=HORIZON, size="250")))
    assert set(spread_levels(both, MORNING).values()) == {50 - 9}


def test_shelf_is_never_below_zero() -> None:
    low = replace(MORNING, order_up_to=np.array([5, 5]))
    assert spread_levels(facts(days=HORIZON), low) == {"A-1000": 0, "B-1000": 0}
