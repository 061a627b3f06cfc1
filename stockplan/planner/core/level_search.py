"""Levels of least stock value that reach a share of orders complete."""

from __future__ import annotations

import numpy as np

from stockplan.planner.core.basket_model import BasketModel
from stockplan.planner.core.shortage import Ints

PRICE_HALVINGS = 25
PRICE_ROUNDS = 4


def one_cycle_service(model: BasketModel, share: float) -> float:
    """Return the least cycle service, the same for all SKUs, that reaches the share."""
    low, high = 0.0, 1.0
    for _ in range(PRICE_HALVINGS):
        middle = (low + high) / 2
        reached = model.share(model.levels_at(middle)) >= share
        low, high = (low, middle) if reached else (middle, high)
    return high


def priced_levels(model: BasketModel, start: Ints, share: float) -> Ints:
    """Return the levels at the least price of completeness that reaches the share, found by halving its logarithm."""
    low, high = -5.0, 5.0 + float(np.log10(model.held.max() * model.given.baskets.n_orders + 1.0))
    best = model.highest
    for _ in range(PRICE_HALVINGS):
        middle = (low + high) / 2
        levels = _levels_at_price(model, start, 10**middle)
        if model.share(levels) >= share:
            best, high = levels, middle
        else:
            low = middle
    return best


def _levels_at_price(model: BasketModel, start: Ints, price: float) -> Ints:
    """Return the levels that are best one by one, each given the others, for orders worth a price."""
    levels = start
    beyond = np.arange(model.at_most.shape[1]) > model.highest[:, None]
    for _ in range(PRICE_ROUNDS):
        net = model.held - price * model.gain(levels)
        better = np.argmin(np.where(beyond, np.inf, net), axis=1)
        if np.array_equal(better, levels):
            break
        levels = better
    return levels


def exchanged_levels(model: BasketModel, levels: Ints, share: float) -> Ints:
    """Take spools away, and exchange one for another, as long as that lowers the value and keeps the share."""
    levels = levels.copy()
    while True:
        step = _best_step(model, levels, share)
        if step is None:
            return levels
        levels = step


def _best_step(model: BasketModel, levels: Ints, share: float) -> Ints | None:
    """Return the levels after the step that saves most: one spool less, or one less here and one more there."""
    rows = np.arange(len(levels))
    spare = model.share(levels) - share
    gain = model.gain(levels)
    less, more = np.maximum(levels - 1, 0), np.minimum(levels + 1, model.highest)
    saved = np.where(levels > 0, model.held[rows, levels] - model.held[rows, less], -np.inf)
    lost = gain[rows, levels] - gain[rows, less]
    cost = np.where(more > levels, model.held[rows, more] - model.held[rows, levels], np.inf)
    won = gain[rows, more] - gain[rows, levels]
    # Last column: nothing is added.
    net = saved[:, None] - np.append(cost, 0.0)[None, :]
    fits = lost[:, None] - np.append(won, 0.0)[None, :] <= spare
    np.fill_diagonal(fits[:, :-1], val=False)
    net = np.where(fits & (net > 1e-9), net, -np.inf)
    for place in np.argsort(-net, axis=None)[: len(levels)]:
        down, up = np.unravel_index(place, net.shape)
        if not np.isfinite(net[down, up]):
            return None
        tried = levels.copy()
        tried[down] -= 1
        if up < len(levels):
            tried[up] += 1
        # Exact: the two may share orders, of which the sums above count each by itself.
        if model.share(tried) >= share:
            return tried
    return None
