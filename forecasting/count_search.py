"""The least count that reaches a probability, for many distributions at once, by few looks at their functions."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy import special

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

# A bracket so narrow, as a share of the count, is closed: beyond 2^53 whole numbers are not told apart.
FINEST_SHARE = 1e-9
# First step of a gallop as a share of the spread; how far beside the interpolated count the second look goes.
STEP_SHARE, ASIDE_SHARE = 0.25, 0.02
# Normal scores are cut off here: interpolation needs finite numbers.
MOST_SCORE = 8.0


def least_count(
    cdf: Callable[[IntArray, FloatArray], FloatArray], probability: FloatArray, *, guess: FloatArray, spread: FloatArray
) -> FloatArray:
    """Return the least whole count >= 0 with P(D <= count) >= probability, shape (d,).

    In normal scores the function of a count is nearly a straight line: after a look at the interpolated count and one
    beside it the bracket is mostly a fiftieth of what it was; a third look halves it, whatever the function is like.

    Parameters
    ----------
    cdf : callable
        Places of distributions, and a count for each -> P(D <= count).
    probability : ndarray, shape (d,)
        In [0, 1).
    guess, spread : ndarray, shape (d,)
        Where to begin, and the standard deviation.

    Notes
    -----
    Exact up to counts of 1e9, beyond them to a share of 1e-9.
    """
    search = _Search(cdf, probability)
    search.gallop(np.floor(guess), step=np.maximum(np.floor(STEP_SHARE * spread), 1.0))
    open_ = search.still_open()
    while open_.size:
        width = search.high[open_] - search.low[open_]
        at = search.look(open_, search.interpolated(open_))
        aside = np.maximum(np.floor(ASIDE_SHARE * width), 1.0)
        search.look(open_, at + np.where(search.high[open_] == at, -aside, aside))
        search.look(open_, np.floor((search.low[open_] + search.high[open_]) / 2.0))
        open_ = search.still_open()
    return search.high


@dataclass
class _Search:
    """Brackets with P(D <= low) < probability <= P(D <= high), and the normal scores of both."""

    cdf: Callable[[IntArray, FloatArray], FloatArray]
    probability: FloatArray
    low: FloatArray = field(init=False)
    high: FloatArray = field(init=False)
    score_low: FloatArray = field(init=False)
    score_high: FloatArray = field(init=False)

    def __post_init__(self) -> None:
        shape = self.probability.shape
        self.low, self.high = np.full(shape, -1.0), np.full(shape, np.inf)
        self.score_low, self.score_high = np.full(shape, -MOST_SCORE), np.full(shape, MOST_SCORE)

    def look(self, place: IntArray, count: FloatArray) -> FloatArray:
        """Narrow the brackets by a look at a count within each; return the counts looked at."""
        at = np.clip(count, np.minimum(self.low[place] + 1.0, self.high[place]), self.high[place])
        reached = self.cdf(place, at)
        is_enough = reached >= self.probability[place]
        up, down = place[is_enough], place[~is_enough]
        self.high[up], self.low[down] = at[is_enough], at[~is_enough]
        self.score_high[up], self.score_low[down] = _score(reached[is_enough]), _score(reached[~is_enough])
        return np.asarray(at)

    def gallop(self, guess: FloatArray, *, step: FloatArray) -> None:
        """Look at the guess, then further and further away from it until the brackets are closed on both sides."""
        at = np.maximum(guess, 0.0)
        searching = np.arange(at.size)
        self.look(searching, at)
        is_down = np.isfinite(self.high)
        while searching.size:
            at[searching] += np.where(is_down[searching], -step[searching], step[searching])
            step[searching] *= 2.0
            searching = searching[at[searching] > self.low[searching]]
            self.look(searching, at[searching])
            is_closed = np.where(is_down, self.low == at, np.isfinite(self.high))
            searching = searching[~is_closed[searching]]

    def interpolated(self, place: IntArray) -> FloatArray:
        """Return the count between low and high where the straight line of scores reaches the probability."""
        low, high = self.low[place], self.high[place]
        rise = np.maximum(self.score_high[place] - self.score_low[place], 1e-12)
        share = (_score(self.probability[place]) - self.score_low[place]) / rise
        return np.asarray(np.floor(low + np.clip(share, 0.0, 1.0) * (high - low)))

    def still_open(self) -> IntArray:
        """Return the places whose bracket holds a count that was not looked at."""
        return np.flatnonzero(self.high - self.low > np.maximum(1.0, FINEST_SHARE * self.high))


def _score(probability: FloatArray) -> FloatArray:
    return np.asarray(np.clip(special.ndtri(probability), -MOST_SCORE, MOST_SCORE))
