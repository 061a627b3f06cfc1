"""Orders of several lines under periodic review: the share that finds everything, simulated from the books' baskets."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from forecasting.errors import ParameterError

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# Orders that follow each other see nearly the same stock: the standard error is that of the means of so many batches.
_BATCHES = 40


@dataclass(frozen=True)
class Baskets:
    """Lines of whole orders as flat arrays, one entry per line.

    Attributes
    ----------
    order, item : ndarray of int, shape (k,)
        Order and item of each line, both counted from 0; an item occurs at most once in an order.
    units : ndarray of int, shape (k,)
        Units of each line, > 0.
    """

    order: IntArray
    item: IntArray
    units: IntArray

    def __post_init__(self) -> None:
        if not self.order.shape == self.item.shape == self.units.shape or self.order.ndim != 1 or not self.order.size:
            raise ParameterError(
                "baskets need equal columns of lines; got {order!s}, {item!s}",
                order=self.order.shape,
                item=self.item.shape,
            )
        if np.any(self.units < 1):
            raise ParameterError(
                "a line has at least one unit; got {units} at {place}",
                units=self.units.min(),
                place=int(self.units.argmin()),
            )

    @property
    def n_orders(self) -> int:
        """Number of orders."""
        return int(self.order.max()) + 1

    def daily_moments(self, *, orders_per_day: float, n_items: int) -> tuple[FloatArray, FloatArray]:
        """Return mean and variance of a day's demand of each item if so many of these orders arrive, Poisson.

        Compound Poisson: mean = rate x E[q], variance = rate x E[q^2].
        """
        rate = orders_per_day / self.n_orders
        units, square = (np.bincount(self.item, weights=w, minlength=n_items) for w in (self.units, self.units**2))
        return np.asarray(rate * units), np.asarray(rate * square)


@dataclass(frozen=True)
class ReviewedStock:
    """Periodic review of n items: every `review_days` each is ordered up to its level, which arrives `lead_days` later.

    Attributes
    ----------
    base_stock, lead_days, review_days : ndarray of int, shape (n,)
        Order-up-to levels >= 0 and whole days, lead >= 0, review >= 1.
    """

    base_stock: IntArray
    lead_days: IntArray
    review_days: IntArray


@dataclass(frozen=True)
class SimulatedShare:
    """Share of all orders that found all their units, with its standard error and the number of orders counted."""

    share: float
    standard_error: float
    orders: int


def simulate_reviewed_share(
    baskets: Baskets, stock: ReviewedStock, *, orders_per_day: float, orders: int, rng: np.random.Generator
) -> SimulatedShare:
    """Simulate the share of orders whose lines are all on the shelf, in their quantities, when they arrive.

    Orders are drawn from the baskets with replacement and arrive as a Poisson stream; what is short waits. Reviews of
    an item are at the starts of days, first at one drawn at random, and what was ordered arrives at the start of a day.
    On a day that is `a` days after the review whose order has arrived last, what is free of an item is its level less
    all that was demanded since that review.

    Parameters
    ----------
    orders : int
        Orders to count; those of the longest lead time and review interval are drawn on top, to warm up.
    """
    longest = int((stock.lead_days + stock.review_days).max())
    warm_up = int(np.ceil(longest * orders_per_day * 1.1)) + 10
    drawn = orders + warm_up
    basket = rng.integers(baskets.n_orders, size=drawn)
    days = drawn / orders_per_day
    day = np.sort(rng.uniform(0.0, days, size=drawn)).astype(np.int64)
    order, line = _lines_of(baskets, basket)
    item, units = baskets.item[line], baskets.units[line]
    phase = rng.integers(stock.review_days)
    since = (
        day[order]
        - stock.lead_days[item]
        - (day[order] - stock.lead_days[item] - phase[item]) % stock.review_days[item]
    )
    taken = _demanded_since(item, day[order], units, since=since, n_days=int(np.ceil(days)) + 1)
    is_there = stock.base_stock[item] - taken >= units
    is_complete = np.bincount(order, weights=~is_there, minlength=drawn)[-orders:] == 0
    means = is_complete[: orders // _BATCHES * _BATCHES].reshape(_BATCHES, -1).mean(axis=1)
    return SimulatedShare(float(is_complete.mean()), float(means.std(ddof=1) / np.sqrt(_BATCHES)), orders)


def _lines_of(baskets: Baskets, basket: IntArray) -> tuple[IntArray, IntArray]:
    """Return for each line of the drawn baskets the place of its order and the line that it copies."""
    by_order = np.argsort(baskets.order, kind="stable")
    count = np.bincount(baskets.order, minlength=baskets.n_orders)
    first = np.concatenate([[0], np.cumsum(count)[:-1]])
    size = count[basket]
    order = np.repeat(np.arange(basket.size), size)
    within = np.arange(order.size) - np.repeat(np.cumsum(size) - size, size)
    return order, by_order[first[basket[order]] + within]


def _demanded_since(item: IntArray, day: IntArray, units: IntArray, *, since: IntArray, n_days: int) -> IntArray:
    """Return the units of each line's item that earlier lines took from the start of day `since` on."""
    turn = np.lexsort((np.arange(item.size), item))
    key = (item * n_days + day)[turn]
    running = np.concatenate([[0], np.cumsum(units[turn])])
    start = np.searchsorted(key, (item * n_days + np.maximum(since, 0))[turn], side="left")
    taken = np.empty(item.size, dtype=np.int64)
    taken[turn] = running[:-1] - running[start]
    return taken
