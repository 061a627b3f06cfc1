"""Weights by class and what they proved. The rules are the project's own: common practice, no source."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from forecasting.backtest import CLASSES, FEWEST_ORIGINS, Backtest, Scores
from forecasting.distribution import NegativeBinomial
from forecasting.methods.candidates import BENCHMARKS, candidates_for
from forecasting.outlook import Outlook
from forecasting.selection import choose, honest_scores, prior_weights

ORIGINS, SKUS, PLAIN = 10, 30, 2
LUMPY, SMOOTH = CLASSES.index("lumpy"), CLASSES.index("smooth")
MEANS, PRIOR = np.array([1.0, 5.0, 20.0]), np.full(3, 1 / 3)


def _poisson(mean: np.ndarray) -> Outlook:
    of_horizon = mean[..., None].copy()
    return Outlook(of_horizon, of_horizon, np.full_like(of_horizon, np.inf), np.zeros_like(mean))


def _backtest(*, true_mean: float = 5.0, plain_loss: tuple[float, ...] = (2.0, 3.0)) -> Backtest:
    """Three Poisson methods of mean 1, 5 and 20; demand is Poisson of the true mean in every window of two horizons."""
    actual = np.random.default_rng(6).poisson(true_mean, size=(ORIGINS, SKUS)).astype(float)
    mean = np.broadcast_to(MEANS[:, None], (ORIGINS, 3, SKUS))
    mass = NegativeBinomial(mean, mean).pmf(actual[:, None])
    loss = np.broadcast_to(np.array(plain_loss)[:, None], (ORIGINS, PLAIN, SKUS)).copy()
    return Backtest(
        origins=tuple(range(20, 20 + ORIGINS)),
        horizons=np.array([1, 2]),
        mass=np.repeat(mass[..., None], 2, axis=3),
        expected=np.full((ORIGINS, SKUS, 2), true_mean),
        demand_class=np.full((ORIGINS, SKUS), LUMPY),
        actual=actual,
        said=tuple(_poisson(mean[j]) for j in range(ORIGINS)),
        plain=Scores(loss, loss, loss),
    )


def _gain(backtest: Backtest) -> tuple[float, int]:
    honest = honest_scores(backtest, prior=PRIOR, quantiles=(0.5, 0.9))
    choice = choose(backtest, honest, origin=40, prior=PRIOR)
    return float(choice.gain_share[LUMPY]), int(choice.windows[LUMPY])


def test_weight_goes_to_the_method_that_made_the_demand() -> None:
    backtest = _backtest()
    choice = choose(backtest, honest_scores(backtest, prior=PRIOR, quantiles=(0.5, 0.9)), origin=40, prior=PRIOR)
    assert choice.weight[LUMPY, 1] > 0.95
    np.testing.assert_allclose(choice.weight.sum(axis=1), 1.0)


def test_gain_is_the_share_less_loss_than_the_best_benchmark() -> None:
    honest = honest_scores(_backtest(), prior=PRIOR, quantiles=(0.5, 0.9))
    gain, windows = _gain(_backtest())
    assert gain == pytest.approx(1 - np.nanmean(honest.loss) / 2.0)
    assert windows == (ORIGINS - FEWEST_ORIGINS) * SKUS


def test_gain_is_measured_where_the_benchmark_applied() -> None:
    backtest = _backtest(plain_loss=(2.0, 9.0))
    backtest.plain.loss[: ORIGINS - 1, 0] = np.nan
    honest = honest_scores(backtest, prior=PRIOR, quantiles=(0.5, 0.9))
    assert _gain(backtest)[0] == pytest.approx(1 - np.nanmean(honest.loss[-1]) / 2.0)


def test_gain_is_unknown_when_nothing_was_sold() -> None:
    nothing = replace(_backtest(), actual=np.zeros((ORIGINS, SKUS)))
    assert np.isnan(_gain(nothing)[0])


def test_class_with_few_windows_is_judged_with_all() -> None:
    backtest = _backtest()
    backtest.demand_class[:, :2] = SMOOTH  # 12 scored windows
    honest = honest_scores(backtest, prior=PRIOR, quantiles=(0.5, 0.9))
    choice = choose(backtest, honest, origin=40, prior=PRIOR)
    assert choice.windows[SMOOTH] == (ORIGINS - FEWEST_ORIGINS) * SKUS
    assert choice.windows[LUMPY] == (ORIGINS - FEWEST_ORIGINS) * (SKUS - 2)


def test_honest_scores_do_not_see_later_windows() -> None:
    backtest = _backtest()
    changed = replace(backtest, mass=backtest.mass.copy())
    changed.mass[6:, 1] = 1e-30
    first, again = (honest_scores(b, prior=PRIOR, quantiles=(0.5, 0.9)).loss for b in (backtest, changed))
    np.testing.assert_array_equal(first[:7], again[:7])
    assert not np.array_equal(first[8:], again[8:])


def test_plain_methods_have_to_earn_their_weight() -> None:
    candidates = candidates_for(has_season=False)
    weight = prior_weights(candidates)
    assert weight.sum() == pytest.approx(1.0)
    assert [c.name for c, w in zip(candidates, weight, strict=True) if w == 0] == [c.name for c in BENCHMARKS]


def test_weights_are_those_of_the_prior_when_nothing_was_compared() -> None:
    choice = choose(None, None, origin=10, prior=PRIOR)
    np.testing.assert_allclose(choice.weight, 1 / 3)
    assert np.isnan(choice.gain_share).all()
    assert not choice.windows.any()
