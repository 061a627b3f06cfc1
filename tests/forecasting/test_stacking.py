"""Weights of the methods: the maximum that they climb to, and what a class borrows."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import optimize, stats

from forecasting.stacking import Windows, learned_weights, usable


@pytest.fixture(scope="module")
def poisson_mix() -> np.ndarray:
    """Probabilities that three Poisson methods gave to 20,000 counts: half are of mean 1, half of mean 6."""
    rng = np.random.default_rng(4)
    counts = rng.poisson(np.repeat([1.0, 6.0], 10_000))
    return stats.poisson.pmf(counts, np.array([1.0, 6.0, 20.0])[:, None])


def _weights(mass: np.ndarray, *, demand_class: np.ndarray | None = None, n_classes: int = 1) -> np.ndarray:
    n = mass.shape[1]
    return learned_weights(
        Windows(mass, np.zeros(n, dtype=int) if demand_class is None else demand_class, np.ones(n)),
        prior=np.full(len(mass), 1 / len(mass)),
        n_classes=n_classes,
    )


def test_weights_find_the_shares_that_made_the_demand(poisson_mix: np.ndarray) -> None:
    np.testing.assert_allclose(_weights(poisson_mix)[0], [0.5, 0.5, 0.0], atol=0.015)


def test_weights_equal_the_maximum_that_scipy_finds(poisson_mix: np.ndarray) -> None:
    two = poisson_mix[:2]
    found = optimize.minimize_scalar(
        lambda w: -np.log(w * two[0] + (1 - w) * two[1]).sum(), bounds=(0.0, 1.0), method="bounded"
    )
    # The priors are worth 70 of 20,000 windows.
    assert _weights(two)[0, 0] == pytest.approx(found.x, abs=2e-3)


def test_class_without_windows_has_the_weights_of_all(poisson_mix: np.ndarray) -> None:
    weights = _weights(poisson_mix, n_classes=2)
    np.testing.assert_allclose(weights[1], weights[0], atol=1e-3)


def test_class_leaves_the_weights_of_all_as_its_windows_grow(poisson_mix: np.ndarray) -> None:
    few = np.where(np.arange(20_000) < 10, 1, 0)
    many = np.where(np.arange(20_000) < 10_000, 1, 0)
    first = [_weights(poisson_mix, demand_class=c, n_classes=2)[1, 0] for c in (few, many)]
    # The first half of the counts is all of the first method.
    assert 0.5 < first[0] < 0.7
    assert first[1] > 0.95


def test_weights_are_those_of_the_prior_when_nothing_is_known() -> None:
    nothing = Windows(np.ones((3, 0)), np.zeros(0, dtype=int), np.zeros(0))
    weights = learned_weights(nothing, prior=np.array([0.5, 0.5, 0.0]), n_classes=2)
    np.testing.assert_allclose(weights, [[0.5, 0.5, 0.0]] * 2)


def test_method_without_prior_earns_its_weight(poisson_mix: np.ndarray) -> None:
    windows = Windows(poisson_mix, np.zeros(20_000, dtype=int), np.ones(20_000))
    weights = learned_weights(windows, prior=np.array([0.0, 0.5, 0.5]), n_classes=1)
    assert weights[0, 0] > 0.45


def test_method_that_does_not_apply_gets_neither_credit_nor_blame(poisson_mix: np.ndarray) -> None:
    absent = np.vstack([poisson_mix[:2], np.full(20_000, np.nan)])
    weights = _weights(absent)[0]
    assert weights[0] == pytest.approx(weights[1], abs=0.05)
    # It is as good as the mean of the others everywhere: the likelihood hardly tells how much it gets.
    assert 0.0 <= weights[2] <= 0.5


def test_outcome_that_no_method_expected_changes_nothing(poisson_mix: np.ndarray) -> None:
    with_odd_one = np.column_stack([poisson_mix, np.zeros(3)])
    np.testing.assert_allclose(_weights(with_odd_one), _weights(poisson_mix), atol=1e-4)


def test_usable_weights_sum_to_one_without_what_does_not_apply_or_hardly_counts() -> None:
    weight = np.array([[0.5, 0.5], [0.494, 0.494], [0.006, 0.006]])
    kept = usable(weight, applies=np.array([[True, False], [True, True], [True, True]]))
    # By hand: 0.5 / 0.994; and without the first method 0.006 / 0.5 is more than a hundredth.
    np.testing.assert_allclose(kept, [[0.5 / 0.994, 0.0], [0.494 / 0.994, 0.988], [0.0, 0.012]])
