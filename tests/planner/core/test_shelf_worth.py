"""What shelf space earns, reckoned by hand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import stats

from stockplan.planner.core.shelf_worth import ShelfInput, ShelfWorth, shelf_worth


def _worth(**fields: float) -> ShelfWorth:
    """A SKU that sells one unit every tenth ship day; its filament runs every fifth; 30 min and 40 an hour."""
    figures: dict[str, Any] = {
        "order_days_per_year": 25.0,
        "daily_mean": 0.1,
        "daily_variance": 0.1,
        "order_up_to": 3.0,
        "lead_days": 2.0,
        "review_days": 5.0,
        "value": 20.0,
        "run_interval_days": 5.0,
        "changeover_h": 0.5,
    }
    given = ShelfInput(**{name: np.array([value]) for name, value in (figures | fields).items()})
    return shelf_worth(given, holding_rate_per_year=0.2, line_hour_cost=40.0)


def test_shelf_earns_the_runs_that_it_saves() -> None:
    # Four of five order days have no run of the filament: 20 runs of half an hour at 40.
    found = _worth()
    assert (found.runs_saved[0], found.runs_saved_cost[0]) == (pytest.approx(20), pytest.approx(400))


def test_stock_is_what_is_left_in_the_middle_of_the_cycle() -> None:
    # Poisson demand of 0.1 x (2 + 2.5) units against a level of 3: sum of (3 - d) P(d).
    left = sum((3 - d) * stats.poisson.pmf(d, 0.45) for d in range(3))
    found = _worth()
    assert found.mean_stock[0] == pytest.approx(left)
    assert found.holding_cost[0] == pytest.approx(0.2 * 20 * left)
    assert found.earns[0] == pytest.approx(400 - 0.2 * 20 * left)


def test_at_the_break_even_shelf_space_earns_nothing() -> None:
    even = float(_worth(value=2000.0).break_even_order_days[0])
    assert even > 25
    assert _worth(value=2000.0, order_days_per_year=even).earns[0] == pytest.approx(0, abs=1e-9)
    assert _worth(value=2000.0).earns[0] < 0


def test_filament_that_runs_every_day_saves_no_run() -> None:
    found = _worth(run_interval_days=1.0)
    assert (found.runs_saved[0], found.break_even_order_days[0]) == (0.0, np.inf)
    assert found.earns[0] < 0


def test_sku_without_stock_costs_nothing() -> None:
    assert _worth(order_up_to=0.0, daily_mean=0.0, daily_variance=0.0).break_even_order_days[0] == 0.0
