"""Share of orders that are complete: an order of several lines ships only if all of them are there.

Availabilities of the lines of an order are dependent, since they share demand and capacity. The product of single
availabilities is a lower bound where demands are associated; the simulation shows how far it is from the truth.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from forecasting.errors import ParameterError

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_BATCHES = 40


def order_fill_if_independent(item_availability: FloatArray, *, order: IntArray, item: IntArray) -> FloatArray:
    """Return for each order the product of the availabilities of its lines.

    Parameters
    ----------
    item_availability : ndarray, shape (n,)
        Probability that an item is there, in [0, 1].
    order, item : ndarray of int, shape (k,)
        Order and item of each line, both counted from 0; an order without lines is complete.

    References
    ----------
    Hausman, W.H., Lee, H.L. & Zhang, A.X. (1998), Joint demand fulfillment probability in a multi-item inventory
    system with independent order-up-to policies, European Journal of Operational Research 109, 646-659.
    """
    _check_availability(item_availability)
    with np.errstate(divide="ignore"):
        log_availability = np.log(item_availability)
    return np.exp(np.bincount(order, weights=log_availability[item], minlength=int(order.max(initial=-1)) + 1))


def order_fill_bounds(
    item_availability: FloatArray, *, order: IntArray, item: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Return lower and upper bounds that hold whatever the dependence: Bonferroni, and the scarcest line."""
    _check_availability(item_availability)
    n_orders = int(order.max(initial=-1)) + 1
    lower = 1.0 - np.bincount(order, weights=1.0 - item_availability[item], minlength=n_orders)
    upper = np.ones(n_orders)
    np.minimum.at(upper, order, item_availability[item])
    return np.maximum(lower, 0.0), upper


def _check_availability(item_availability: FloatArray) -> None:
    is_bad = ~((item_availability >= 0) & (item_availability <= 1))
    if is_bad.any():
        place = int(is_bad.argmax())
        raise ParameterError(f"availability must be in [0, 1]; got {item_availability[place]} for item {place}")


@dataclass(frozen=True)
class SimulatedOrderFill:
    """Share of orders of each basket that found all their lines, with its standard error and number of orders."""

    share: FloatArray
    standard_error: FloatArray
    orders: IntArray


def simulate_order_fill(
    baskets: Sequence[Sequence[int]],
    *,
    rates: FloatArray,
    base_stock: IntArray,
    lead_periods: float,
    orders: int,
    rng: np.random.Generator,
) -> SimulatedOrderFill:
    """Simulate Poisson streams of baskets on items under continuous one-for-one replenishment.

    Every line takes one unit, what is short waits, and each unit is replaced after the lead time: an item is there
    when fewer than its base stock were demanded within the lead time before.

    Parameters
    ----------
    baskets : sequence of sequences of int
        Items of each kind of order, counted from 0.
    rates : ndarray, shape (b,)
        Orders per period of each basket.
    base_stock : ndarray of int, shape (n,)
    lead_periods : float
    orders : int
        Orders to draw; the first tenth warms up and is not counted.
    rng : numpy.random.Generator
    """
    arrival = np.cumsum(rng.exponential(1.0 / rates.sum(), size=orders))
    kind = rng.choice(rates.size, size=orders, p=rates / rates.sum())
    contains = np.zeros((rates.size, base_stock.size), dtype=bool)
    for b, items in enumerate(baskets):
        contains[b, list(items)] = True
    # Demand within (t - L, t) before each order: difference of running counts.
    taken = np.concatenate([np.zeros((1, base_stock.size)), np.cumsum(contains[kind], axis=0)])
    oldest = np.searchsorted(arrival, arrival - lead_periods, side="right")
    outstanding = taken[np.arange(orders)] - taken[oldest]
    is_complete = np.all((outstanding < base_stock) | ~contains[kind], axis=1)
    counted = slice(orders // 10, None)
    return _batch_means(kind[counted], is_complete[counted], n_baskets=rates.size)


def _batch_means(kind: IntArray, is_complete: NDArray[np.bool_], *, n_baskets: int) -> SimulatedOrderFill:
    """Return shares with standard errors from batches: orders that follow each other see nearly the same stock."""
    batch = np.arange(kind.size) * _BATCHES // kind.size
    place, size = kind * _BATCHES + batch, n_baskets * _BATCHES
    n = np.bincount(place, minlength=size).reshape(n_baskets, _BATCHES)
    if np.any(n == 0):
        basket = int(np.argmax(np.any(n == 0, axis=1)))
        raise ParameterError(f"basket {basket} is too rare for {kind.size} orders; draw more")
    complete = np.bincount(place, weights=is_complete, minlength=size).reshape(n_baskets, _BATCHES)
    error = np.std(complete / n, axis=1, ddof=1) / np.sqrt(_BATCHES)
    return SimulatedOrderFill(complete.sum(axis=1) / n.sum(axis=1), error, n.sum(axis=1).astype(np.int64))
