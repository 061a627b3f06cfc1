"""The share of a ship day's demand still to arrive. Definitions are the project's own: common practice, no source."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from forecasting.arrival_profile import demand_to_arrive, fit_arrival_profile
from forecasting.errors import ParameterError


def test_share_to_arrive_equals_hand_calculation() -> None:
    profile = fit_arrival_profile(minutes_before_cut_off=[10.0, 60.0, 60.0, 600.0], units=[1.0, 2.0, 1.0, 6.0])
    # By hand of 10 units: none later than the cut-off; 1 with less than 60 minutes to go; 4 with less than 600.
    np.testing.assert_allclose(profile.share_to_arrive([0, 10, 11, 60, 61, 600, 601]), [0, 0, 0.1, 0.1, 0.4, 0.4, 1.0])


@given(minutes=st.lists(st.floats(0.5, 5000.0), min_size=1, max_size=30))
def test_share_to_arrive_never_falls_with_more_time_to_go(minutes: list[float]) -> None:
    profile = fit_arrival_profile(minutes_before_cut_off=minutes, units=np.ones(len(minutes)))
    share = profile.share_to_arrive(np.linspace(0.0, 6000.0, 200))
    assert np.all(np.diff(share) >= 0)
    assert (share[0], share[-1]) == (0.0, pytest.approx(1.0))


def test_profile_names_the_line_when_it_came_at_the_cut_off() -> None:
    with pytest.raises(ParameterError, match=r"minutes before cut-off must be > 0; got 0\.0 at line 1"):
        fit_arrival_profile(minutes_before_cut_off=[5.0, 0.0], units=[1.0, 1.0])


def test_demand_to_arrive_leaves_nothing_of_the_window_at_its_cut_off() -> None:
    mean, variance = np.array([[4.0, 8.0, 12.0]]), np.array([[6.0, 14.0, 24.0]])
    left, spread = demand_to_arrive(mean, variance, first_mean=np.array([4.0]), share_to_arrive=0.0)
    # What is left of h days is then the demand of h - 1 days: 0, 4, 8 with the variances of 0, 1, 2 days.
    np.testing.assert_allclose(left, [[0.0, 4.0, 8.0]])
    np.testing.assert_allclose(spread, [[0.0, 6.0, 14.0]])


def test_demand_to_arrive_is_all_of_it_when_the_window_opens() -> None:
    mean, variance = np.array([[4.0, 8.0]]), np.array([[6.0, 14.0]])
    left, spread = demand_to_arrive(mean, variance, first_mean=np.array([4.0]), share_to_arrive=1.0)
    np.testing.assert_allclose([left, spread], [mean, variance])


def test_demand_to_arrive_is_refused_when_no_share() -> None:
    with pytest.raises(ParameterError, match=r"\[0, 1\]"):
        demand_to_arrive(np.ones((1, 1)), np.ones((1, 1)), first_mean=np.ones(1), share_to_arrive=1.5)
