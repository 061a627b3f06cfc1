"""A forecast between two refreshes, moved on by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np

from tests.planner.replay.small_stretch import FIRST, HORIZON, forecasts
from tests.planner.small_facts import MONDAY

# Poisson, two a day; in the morning half of today's have arrived.
WHOLE = forecasts(daily=2.0)(MONDAY)
HALF = replace(WHOLE, mean=WHOLE.mean - 1.0, variance=WHOLE.mean - 1.0, share_to_arrive=0.5)


def test_forecast_a_day_later_is_that_of_a_day_less() -> None:
    later = HALF.advanced(MONDAY + timedelta(days=1), days=1)
    np.testing.assert_allclose(later.mean, HALF.mean[:, :-1])
    np.testing.assert_allclose(later.variance, HALF.mean[:, :-1])
    assert (later.days[0], len(later.days)) == (FIRST + timedelta(days=1), HORIZON - 1)


def test_spread_keeps_its_ratio_to_the_mean() -> None:
    wide = replace(WHOLE, variance=3 * WHOLE.mean)
    np.testing.assert_allclose(wide.advanced(MONDAY, days=2).variance, 3 * WHOLE.mean[:, :-2])


def test_levels_stay_until_the_next_refresh() -> None:
    levelled = replace(WHOLE, order_up_to=np.array([7, 9]))
    np.testing.assert_array_equal(levelled.advanced(MONDAY, days=3).order_up_to, [7, 9])
