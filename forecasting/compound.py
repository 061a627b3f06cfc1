"""Demand as orders that arrive at random, each with its size: what is known where the orders of a period are counted.

N orders in a period, Poisson with a rate that its own orders and its kin tell, sizes S apart from each other:

    E D = E N x E S,    Var D = E N x E S^2 + (E S)^2 x Var(rate).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from forecasting.credibility import RatePrior, borrowed_rate, fit_rate_prior, shrunk_size

FloatArray = NDArray[np.float64]

# Orders of its own after which the spread of a SKU's sizes counts as much as that of all; a rule of ours.
HALF_TRUST_ORDERS = 8.0


@dataclass(frozen=True)
class OrderSizes:
    """Mean and second moment of the size of an order, each (n,)."""

    mean: FloatArray
    second_moment: FloatArray


@dataclass(frozen=True)
class CompoundRate:
    """Units and orders per period, the variance of one period, and the squared variation of the rate, each (n,)."""

    mean: FloatArray
    orders: FloatArray
    variance: FloatArray
    variation: FloatArray


def order_sizes(units: FloatArray, orders: FloatArray, *, design: FloatArray) -> OrderSizes:
    """Return the sizes of orders, drawn to those of the kin.

    Parameters
    ----------
    units, orders : ndarray, shape (n, T)
        What was demanded in each period and by how many orders; NaN where unknown.
    design : ndarray, shape (n, c)
        Regressors without the constant.

    Notes
    -----
    A period of k orders has a variance of k times that of a size around k mean sizes, so that periods with several
    orders tell the spread of single sizes as well as those with one.
    """
    known, count = np.nan_to_num(units), np.nan_to_num(orders)
    total = count.sum(axis=1)
    counted = np.maximum(total, 1.0)
    own = known.sum(axis=1) / counted
    variance = ((known - count * own[:, None]) ** 2).sum(axis=1) / counted
    mean = shrunk_size(mean=own, variance=variance, demands=total, design=design)
    square = own**2
    of_all = float((total * variance).sum() / max(float((total * square).sum()), 1e-9))
    relative = np.divide(variance, square, out=np.full(own.size, of_all), where=square > 0)
    shrunk = (total * relative + HALF_TRUST_ORDERS * of_all) / (total + HALF_TRUST_ORDERS)
    return OrderSizes(mean, mean**2 * (1.0 + shrunk))


def order_prior(orders: FloatArray, exposure: FloatArray, *, design: FloatArray) -> RatePrior:
    """Return the orders per period of each SKU as its kin would let expect."""
    return fit_rate_prior(units=np.nansum(orders, axis=1), exposure=exposure, design=design)


def compound_rate(
    orders: FloatArray, exposure: FloatArray, *, keep: float, prior: RatePrior, sizes: OrderSizes
) -> CompoundRate:
    """Return the rate of orders by credibility, times their sizes.

    Parameters
    ----------
    orders : ndarray, shape (n, T)
    exposure : ndarray, shape (n,)
        Factors of the known periods; a period counts ``keep`` times the one after it, here and in ``orders``.
    """
    weight = keep ** np.arange(orders.shape[1] - 1, -1, -1)
    rate = borrowed_rate(demands=np.nan_to_num(orders) @ weight, exposure=exposure, prior=prior, size=sizes.mean)
    return CompoundRate(rate.mean, rate.demands, rate.demands * sizes.second_moment, rate.variation)
