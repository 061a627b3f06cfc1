"""Share of orders that are complete: an order of several lines ships only if all of them are there.

Availabilities of the lines of an order are dependent, since they share demand and capacity. The product of single
availabilities is a lower bound where demands are associated; ``basket_fill`` simulates how far it is from the truth.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from forecasting.errors import ParameterError

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


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


def _check_availability(item_availability: FloatArray) -> None:
    is_bad = ~((item_availability >= 0) & (item_availability <= 1))
    if is_bad.any():
        place = int(is_bad.argmax())
        raise ParameterError(
            "availability must be in [0, 1]; got {share} for item {place}", share=item_availability[place], place=place
        )
