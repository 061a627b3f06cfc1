"""Variance: the pooled law finds the law that made the data, and shrinkage goes where it should."""

from __future__ import annotations

import numpy as np
import pytest

from forecasting.spread import VarianceLaw, cumulated_variance, fit_variance_law, spread_from_law


def test_law_finds_the_power_law_that_made_the_variances() -> None:
    mean = np.geomspace(0.5, 50.0, 30)
    law = fit_variance_law(mean=mean, variance=2.0 * mean**1.4, n_events=np.full(30, 50.0))
    assert (law.scale, law.power) == (pytest.approx(2.0), pytest.approx(1.4))


def test_law_is_poisson_when_no_sku_has_enough_demands() -> None:
    assert fit_variance_law(mean=np.ones(9), variance=np.ones(9), n_events=np.full(9, 4.0)) == VarianceLaw(1.0, 1.0)


def test_law_is_proportional_when_there_are_too_few_skus_for_a_slope() -> None:
    law = fit_variance_law(mean=np.array([1.0, 4.0]), variance=np.array([3.0, 12.0]), n_events=np.array([20.0, 20.0]))
    assert (law.scale, law.power) == (pytest.approx(3.0), 1.0)


def _spread(rate: float, *, own: float, n_events: float, law: VarianceLaw) -> float:
    arrays = {"rate": rate, "mean": 2.0, "variance": own, "n_events": n_events}
    return float(spread_from_law(**{name: np.array([value]) for name, value in arrays.items()}, law=law)[0])


def test_spread_lies_between_own_and_law_and_nears_its_own_with_more_demands() -> None:
    # By hand: law 4, own 10; trust 0, one half at 8 demands, nearly 1.
    found = [_spread(2.0, own=10.0, n_events=n, law=VarianceLaw(2.0, 1.0)) for n in (0.0, 8.0, 1e6)]
    np.testing.assert_allclose(found, [4.0, 7.0, 10.0], rtol=1e-4)


def test_spread_keeps_its_departure_from_the_law_when_the_rate_moves() -> None:
    # By hand: at rate 8 the law says 2 x 8^1.5; the SKU has shown 10 where the law says 2 x 2^1.5.
    found = _spread(8.0, own=10.0, n_events=1e9, law=VarianceLaw(2.0, 1.5))
    assert found == pytest.approx(2 * 8**1.5 * 10 / (2 * 2**1.5))


def test_spread_is_never_below_poisson() -> None:
    assert _spread(5.0, own=0.0, n_events=1e9, law=VarianceLaw(1, 1)) == 5.0


def test_cumulated_variance_equals_that_of_periods_with_a_common_uncertain_level() -> None:
    # By hand: D = sum of h periods of variance s2 around a level of variance k s2: h s2 + h^2 k s2 = 3*4 + 9*0.1*4.
    assert cumulated_variance(one_period=np.array(4.0), periods=np.array(3.0), level_growth=0.1) == pytest.approx(15.6)
