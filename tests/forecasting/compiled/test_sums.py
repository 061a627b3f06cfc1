"""Compiled sums against pandas and numpy."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from forecasting.compiled.phases import group_totals, multiply_by_phase, phase_sums
from forecasting.compiled.recent import discounted_sums, event_moments, factored_moments, window_sums

PHASE = np.arange(300) % 7
WEIGHT = np.where(np.arange(300) < 20, 0.0, 0.9 ** (np.arange(300) // 50))


@pytest.fixture(scope="module")
def units(sporadic: np.ndarray) -> np.ndarray:
    """60 SKUs x 300 periods, a tenth of them unknown."""
    return np.where(np.random.default_rng(4).random(sporadic.shape) < 0.1, np.nan, sporadic)


def _level(units: np.ndarray, width: int) -> np.ndarray:
    """The centred rolling mean of pandas; at the ends the first and the last whole window."""
    means = pd.DataFrame(units.T).rolling(width, min_periods=1).mean().to_numpy()[width - 1 :]
    return means[np.clip(np.arange(units.shape[1]) - width // 2, 0, units.shape[1] - width)].T


@pytest.mark.parametrize("width", [7, 14])
def test_phase_sums_equal_those_over_the_rolling_mean_of_pandas(width: int, units: np.ndarray) -> None:
    (sold, expected, seen, seen_squares), _, _ = phase_sums(units, PHASE, WEIGHT, 7, width)
    weighted, known = (np.arange(7) == PHASE[:, None]) * WEIGHT[:, None], ~np.isnan(units)
    np.testing.assert_allclose(sold, np.nan_to_num(units) @ weighted, rtol=1e-10)
    np.testing.assert_allclose(expected, (_level(units, width) * known) @ weighted, rtol=1e-10, atol=1e-12)
    np.testing.assert_allclose(seen, known @ weighted, rtol=1e-10)
    np.testing.assert_allclose(seen_squares, known @ weighted**2, rtol=1e-10)


def test_phase_squares_equal_those_over_the_rolling_mean_of_pandas(units: np.ndarray) -> None:
    _, squares, mean = phase_sums(units, PHASE, WEIGHT, 7, 14)
    is_in = (np.arange(7) == PHASE[:, None]) & (WEIGHT > 0)[:, None]
    level, y = np.where(np.isnan(units), 0.0, _level(units, 14)), np.nan_to_num(units)
    for got, products in zip(squares, (y * y, y * level, level * level, ~np.isnan(units)), strict=True):
        np.testing.assert_allclose(got, products @ is_in.astype(float), rtol=1e-10, atol=1e-12)
    np.testing.assert_allclose(mean, level.sum(axis=1) / (~np.isnan(units)).sum(axis=1), rtol=1e-10, atol=1e-12)


def test_factors_are_multiplied_by_the_ratio_of_their_row_in_each_phase() -> None:
    factors, ratio = np.full((2, 3), 2.0), np.array([[1.0, 3.0], [5.0, 7.0]])
    multiply_by_phase(factors, ratio, np.array([0, 1, 0]), np.array([1, 0]))
    assert factors.tolist() == [[10.0, 14.0, 10.0], [2.0, 6.0, 2.0]]


def test_group_totals_equal_those_of_pandas(units: np.ndarray) -> None:
    group, factors = np.arange(60) % 3, np.random.default_rng(8).uniform(0.5, 2.0, size=(60, 310))
    expected = pd.DataFrame(units / factors[:, :300]).groupby(group).sum()
    np.testing.assert_allclose(group_totals(units, factors, group, 3), expected, rtol=1e-10)


def test_discounted_sums_equal_weighted_ones(units: np.ndarray) -> None:
    factors, keep = np.random.default_rng(9).uniform(0.5, 2.0, size=(60, 310)), (1.0, 0.95)
    demands, exposure = discounted_sums(units, factors, keep)
    for j, kept in enumerate(keep):
        weight = kept ** np.arange(299, -1, -1.0)
        np.testing.assert_allclose(demands[:, j], (units > 0) @ weight, rtol=1e-10)
        np.testing.assert_allclose(exposure[:, j], (~np.isnan(units) * factors[:, :300]) @ weight, rtol=1e-10)


def test_moments_equal_those_of_pandas_when_all_factors_are_one(units: np.ndarray) -> None:
    mean, variance, demands = factored_moments(units, np.ones_like(units))
    frame = pd.DataFrame(units.T)
    np.testing.assert_allclose(mean, frame.mean(), rtol=1e-10)
    np.testing.assert_allclose(variance, frame.var(), rtol=1e-10)
    np.testing.assert_array_equal(demands, (frame > 0).sum())


def test_moments_are_those_of_a_period_of_factor_one() -> None:
    # By hand: 2 and 6 over factors 1 and 3 are 8 / 4 = 2 a period, without any deviation; an unknown period has no say.
    moments = factored_moments(np.array([[2.0, 6.0, np.nan]]), np.array([[1.0, 3.0, 5.0]]))
    np.testing.assert_array_equal(np.ravel(moments), [2.0, 0.0, 2.0])
    # By hand: 0 and 8 deviate by 2 from 1 x 2 and 3 x 2; 8 over 4 - 1 periods.
    moments = factored_moments(np.array([[0.0, 8.0]]), np.array([[1.0, 3.0]]))
    np.testing.assert_allclose(np.ravel(moments), [2.0, 8.0 / 3.0, 1.0])


def test_window_sums_equal_the_rolling_sums_of_pandas(units: np.ndarray) -> None:
    length = np.random.default_rng(10).integers(1, 11, size=60)
    sums = window_sums(units, length, 291)
    for s in (0, 10, 30, 58):
        rolling = pd.Series(units[s]).rolling(int(length[s])).sum().to_numpy()[length[s] - 1 :]
        np.testing.assert_allclose(sums[s], rolling[:291], rtol=1e-10)


def test_window_sums_are_unknown_when_the_record_ends_before_the_window() -> None:
    np.testing.assert_array_equal(window_sums(np.array([[1.0, 2.0]]), np.array([3]), 1), [[np.nan]])


def test_event_moments_equal_those_of_numpy(units: np.ndarray) -> None:
    known, count, mean, variance = event_moments(units)
    sizes = [row[row > 0] for row in units]
    np.testing.assert_array_equal(known, (~np.isnan(units)).sum(axis=1))
    np.testing.assert_array_equal(count, [len(size) for size in sizes])
    assert count.min() == 0
    np.testing.assert_allclose(mean, [size.mean() if len(size) else 0.0 for size in sizes], rtol=1e-12)
    np.testing.assert_allclose(variance, [size.var() if len(size) else 0.0 for size in sizes], rtol=1e-9)
