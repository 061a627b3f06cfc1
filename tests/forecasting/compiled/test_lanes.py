"""Arithmetic on lanes against numpy's: IEEE 754 rounds each lane as it rounds a single number."""

from __future__ import annotations

import numpy as np
import pytest
from numba import njit
from numba.core.errors import TypingError

from forecasting.compiled.lanes import at_least, lanes, read_lanes, write_lanes


@njit
def _calculated(rows: np.ndarray, numbers: tuple[float, ...], y: float) -> None:
    """Write into row 2 what comes of row 1 and the numbers, by every operation on lanes and on a float either side."""
    a, x = lanes(numbers), read_lanes(rows, 1, lanes(numbers))
    total = (1.0 - a) * x + y / x
    total += (y - x) * (x - y) / (2.0 + a) - a / 3.0
    write_lanes(total, rows, 2)


@njit
def _raised(rows: np.ndarray, numbers: tuple[float, ...], bound: float) -> None:
    write_lanes(at_least(lanes(numbers), bound), rows, 0)


@pytest.mark.parametrize("count", [1, 2, 3, 8, 10, 17])
def test_lanes_calculate_as_numpy_does_and_leave_all_other_numbers_alone(count: int) -> None:
    rng = np.random.default_rng(count)
    a, rows = rng.random(count), rng.uniform(0.5, 9.0, size=(4, count + 2))
    before, x, y = rows.copy(), rows[1, :count].copy(), 7.3
    _calculated(rows, tuple(a.tolist()), y)
    expected = (1.0 - a) * x + y / x
    expected += (y - x) * (x - y) / (2.0 + a) - a / 3.0
    np.testing.assert_array_equal(rows[2, :count], expected)
    rows[2, :count] = before[2, :count]
    np.testing.assert_array_equal(rows, before)


def test_lanes_below_a_bound_are_raised_to_it() -> None:
    rows = np.zeros((1, 3))
    _raised(rows, (0.5, 2.0, 1.0), 1.0)
    assert rows.tolist() == [[1.0, 2.0, 1.0]]


def test_lanes_are_read_and_written_by_the_strides_of_a_matrix() -> None:
    rows = np.asfortranarray(np.arange(1.0, 13.0).reshape(4, 3))
    _calculated(rows, (0.5, 0.25, 0.125), 2.0)
    wanted = np.ascontiguousarray(np.arange(1.0, 13.0).reshape(4, 3))
    _calculated(wanted, (0.5, 0.25, 0.125), 2.0)
    np.testing.assert_array_equal(rows, wanted)


def test_rows_of_whole_numbers_are_refused() -> None:
    with pytest.raises(TypingError, match="matrix of floats"):
        _calculated(np.ones((4, 3), np.int64), (0.5,), 2.0)
