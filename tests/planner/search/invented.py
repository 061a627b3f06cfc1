"""Random instances in the shape of the published ones, which the search was not tuned on."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse.csgraph import shortest_path


def pigment_orders(seed: int, *, items: int, periods: int) -> tuple[list[list[int]], list[list[int]]]:
    """Demand by item and period, one unit in 85 to 95 % of the periods, and changeovers of 100 to 199."""
    rng = np.random.default_rng(seed)
    demand = np.zeros((items, periods), dtype=int)
    units = int(periods * rng.uniform(0.85, 0.95))
    while demand.sum() < units:
        item, period = rng.integers(items), int(periods * rng.uniform(0.2, 1.0))
        demand[item, period] = 1
        if np.any(demand.sum(axis=0).cumsum() > np.arange(1, periods + 1)):
            demand[item, period] = 0
    changeover = rng.integers(100, 200, (items, items))
    np.fill_diagonal(changeover, 0)
    return demand.tolist(), changeover.tolist()


def tour_minutes(seed: int, *, cities: int) -> NDArray[np.float64]:
    """Minutes between cities: along roads in one direction (even seeds), or far apart with a toll of any size (odd)."""
    rng = np.random.default_rng(seed)
    place = rng.uniform(0, 100, (cities, 2))
    apart = np.hypot(*(place[:, None] - place[None, :]).T)
    if seed % 2:
        return np.asarray(np.round(apart + rng.uniform(0, 40, apart.shape)))
    roads = np.where(rng.random(apart.shape) < 4 / cities, apart + 1, 0)
    ring = rng.permutation(cities)
    roads[ring, np.roll(ring, 1)] = apart[ring, np.roll(ring, 1)] + 1
    return np.asarray(np.round(shortest_path(roads)))


def street_minutes(seed: int, *, cities: int) -> NDArray[np.float64]:
    """Minutes between cities among twice as many corners; streets to the four next, most of them in both directions."""
    rng = np.random.default_rng(seed)
    corners = 2 * cities
    place = rng.uniform(0, 200, (corners, 2))
    apart = np.hypot(*(place[:, None] - place[None, :]).T)
    streets = np.full(apart.shape, np.inf)
    for here in range(corners):
        for there in np.argsort(apart[here])[1:5]:
            for way in ((here, there), (there, here)):
                if rng.random() < 0.8:
                    streets[way] = apart[way] * rng.uniform(1, 1.6)
    minutes = shortest_path(streets)
    usual = 0.8 * corners
    is_joined = (np.isfinite(minutes).sum(axis=0) > usual) & (np.isfinite(minutes).sum(axis=1) > usual)
    chosen = rng.choice(np.flatnonzero(is_joined), cities, replace=False)
    return np.asarray(np.round(minutes[np.ix_(chosen, chosen)]))


def jobs(seed: int, *, count: int, longest: int) -> tuple[list[int], list[int], list[int]]:
    """Minutes, weights and due minutes, drawn as for wt40 but of jobs as short as wanted.

    Potts & Van Wassenhove, Operations Research 33 (1985) 363-377, from memory.
    """
    rng = np.random.default_rng(seed)
    late, spread = rng.choice([0.2, 0.4, 0.6, 0.8, 1.0], 2)
    minutes, weight = rng.integers(1, longest + 1, count), rng.integers(1, 11, count)
    total = minutes.sum()
    due = total * rng.uniform(1 - late - spread / 2, 1 - late + spread / 2, count)
    return minutes.tolist(), weight.tolist(), np.maximum(due, 0).astype(int).tolist()
