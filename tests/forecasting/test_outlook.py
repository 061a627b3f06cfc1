"""What a method says of demand, against simulated arrivals and sums over probabilities."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from forecasting.arrival_profile import outlook_to_arrive
from forecasting.outlook import Outlook, mixed, sampled_steps, stacked

HORIZONS = np.array([1.0, 4.0, 10.0])
# Demands of a SKU arrive 0.1 a period, at a level of squared variation 0.5, in sizes of mean 30 and deviation 10.
RATE, VARIATION, SIZE, SIZE_VARIANCE = 0.1, 0.5, 30.0, 100.0


def _lumpy() -> Outlook:
    """By the law of total variance: v = a (s2 + s^2) + c (a s)^2."""
    arrivals = RATE * HORIZONS
    mean = arrivals * SIZE
    variance = arrivals * (SIZE_VARIANCE + SIZE**2) + VARIATION * mean**2
    return Outlook(*(part[None] for part in (mean, variance, arrivals)), np.array([VARIATION]))


def _simulated(paths: int) -> np.ndarray:
    """Demand over 1, 4 and 10 periods as it arrives: a level, arrivals of every period, a size of each."""
    rng = np.random.default_rng(12)
    level = rng.gamma(1 / VARIATION, VARIATION, size=(paths, 1))
    count = rng.poisson(RATE * level, size=(paths, 10))
    units = rng.normal(SIZE * count, np.sqrt(SIZE_VARIANCE * count))
    return np.cumsum(units, axis=1)[:, [0, 3, 9]]


def test_no_demand_is_as_likely_as_in_a_simulation_of_arrivals() -> None:
    came = _simulated(40_000)
    error = 4 * np.sqrt(0.25 / 40_000)
    np.testing.assert_allclose(_lumpy().idle[0], (came == 0).mean(axis=0), atol=error)


def test_distribution_is_nearer_to_a_simulation_of_arrivals_than_a_negative_binomial_is() -> None:
    came, lumpy, level = _simulated(40_000), _lumpy(), np.array([5.0, 20.0, 60.0])[:, None, None]
    plain = replace(lumpy, arrivals=np.full_like(lumpy.arrivals, np.inf))
    over = (came > level).mean(axis=1)
    found, without = (
        np.abs(mixed(stacked([one]), np.ones((1, 1))).sf(np.broadcast_to(level, (3, 1, 3)))[:, 0] - over)
        for one in (lumpy, plain)
    )
    # What is left is the shape of one to three sizes, which no negative binomial has.
    assert found.max() < 0.06
    assert found.mean() < without.mean() / 2


def test_mixture_has_the_moments_of_its_methods_and_the_masses_it_says() -> None:
    lumpy = _lumpy()
    found = mixed(stacked([lumpy]), np.ones((1, 1)))
    np.testing.assert_allclose(found.mean, lumpy.mean)
    np.testing.assert_allclose(found.variance, lumpy.variance)
    for count in (0.0, 1.0, 31.0):
        np.testing.assert_allclose(found.pmf(count), lumpy.pmf(np.array(count)), rtol=1e-9)


def test_steps_drawn_have_the_moments_and_the_chance_of_none() -> None:
    lumpy, paths = _lumpy(), 40_000
    many = Outlook(
        *(np.broadcast_to(part, (paths, *part.shape)) for part in (lumpy.mean, lumpy.variance, lumpy.arrivals)),
        np.full((paths, 1), VARIATION),
    )
    drawn = np.cumsum(sampled_steps(many, np.random.default_rng(5)), axis=-1)[:, 0]
    np.testing.assert_allclose(drawn.mean(axis=0), lumpy.mean[0], rtol=0.05)
    np.testing.assert_allclose(drawn.var(axis=0), lumpy.variance[0], rtol=0.1)
    np.testing.assert_allclose((drawn == 0).mean(axis=0), lumpy.idle[0], atol=0.01)


def test_mass_is_unknown_where_a_method_does_not_apply() -> None:
    lumpy = _lumpy()
    absent = replace(lumpy, mean=np.full_like(lumpy.mean, np.nan))
    assert np.isnan(absent.pmf(np.array(0.0))).all()
    assert absent.applies.tolist() == [False]
    assert lumpy.applies.tolist() == [True]


@pytest.mark.parametrize("share", [0.0, 0.5, 1.0])
def test_arrivals_of_the_running_window_are_thinned_like_its_units(share: float) -> None:
    left = outlook_to_arrive(_lumpy(), share_to_arrive=share)
    # The first period's 0.1 arrivals: so many of them are still to come, whatever the horizon.
    np.testing.assert_allclose(left.arrivals[0], 0.1 * (HORIZONS - (1 - share)))
    np.testing.assert_allclose(left.mean[0], 3.0 * (HORIZONS - (1 - share)))


@pytest.mark.parametrize("share", [0.0, 1.0])
def test_demand_that_is_not_lumpy_stays_so_in_the_running_window(share: float) -> None:
    smooth = replace(_lumpy(), arrivals=np.full_like(_lumpy().arrivals, np.inf))
    assert np.isposinf(outlook_to_arrive(smooth, share_to_arrive=share).arrivals).all()


def test_demand_without_arrivals_is_certainly_none() -> None:
    none = Outlook(np.zeros((1, 3)), np.zeros((1, 3)), np.zeros((1, 3)), np.array([VARIATION]))
    np.testing.assert_array_equal(mixed(stacked([none]), np.ones((1, 1))).ppf(0.99), np.zeros((1, 3)))
