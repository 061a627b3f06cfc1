"""Run intervals against the square-root law and a search over all intervals."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize

from stockplan.planner.core.run_intervals import USED_SHARE_OF_SPARE, line_load, run_interval_days

CHANGEOVER = np.array([40.0, 40.0, 90.0])
WINDING = np.array([100.0, 25.0, 25.0])


def test_run_intervals_fill_the_spare_time_meant_for_changeovers() -> None:
    days = run_interval_days(changeover_min=CHANGEOVER, winding_min=WINDING, available_min=250, shortest_days=0.1)
    assert (CHANGEOVER / days).sum() == pytest.approx(USED_SHARE_OF_SPARE * 100, rel=1e-6)


def test_run_intervals_follow_the_square_root_of_changeover_over_winding() -> None:
    days = run_interval_days(changeover_min=CHANGEOVER, winding_min=WINDING, available_min=250, shortest_days=0.1)
    # Four times the demand: half the interval. 2.25 times the changeover: 1.5 times the interval.
    assert days[1] / days[0] == pytest.approx(2.0, rel=1e-6)
    assert days[2] / days[1] == pytest.approx(1.5, rel=1e-6)


def test_run_intervals_hold_the_least_stock_for_their_changeover_time() -> None:
    # Reference: scipy's SLSQP on the same problem, minimise sum w T / 2 subject to sum c / T <= 50.
    days = run_interval_days(changeover_min=CHANGEOVER, winding_min=WINDING, available_min=250, shortest_days=0.1)
    budget = {"type": "ineq", "fun": lambda t: USED_SHARE_OF_SPARE * 100 - (CHANGEOVER / t).sum()}
    best = minimize(lambda t: float(WINDING @ t) / 2, x0=np.full(3, 8.0), bounds=[(0.1, 100)] * 3, constraints=[budget])
    assert float(WINDING @ days) / 2 == pytest.approx(best.fun, rel=1e-4)


def test_line_load_says_how_many_hours_are_short() -> None:
    load = line_load(
        changeover_min=np.array([30.0]), winding_min=np.array([470.0]), interval_days=np.array([3.0]), available_min=420
    )
    # By hand: 470 + 30 / 3 - 420 = 60 minutes a ship day, 5 h a week of five ship days.
    assert load.short_h_per_week(ship_days_per_week=5) == pytest.approx(5.0)
