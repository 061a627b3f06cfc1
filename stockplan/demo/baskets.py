"""What stands on the orders: SKUs that go together, and how many of each."""

from __future__ import annotations

import numpy as np
import pandas as pd

from stockplan.demo.arrivals import HABITS
from stockplan.demo.catalogue import Catalogue
from stockplan.demo.popularity import Popularity, sku_traits

MAX_LINES = 6
# A further line is the usual companion of the first, another of its family (same material, diameter and size), or any.
COMPANION_SHARE = 0.26
FAMILY_SHARE = 0.44
# Geometric quantities by channel, before they are cut down for large spools.
MEAN_EXTRA_SPOOLS = {"HERON": 0.42, "LATTICE": 2.3, "QUAY": 0.25, "BENCH": 0.6}
MAX_SPOOLS = 40
BULK_SHARE = 0.010
BULK_FACTOR = 4


def draw_lines(
    orders: pd.DataFrame, *, catalogue: Catalogue, popularity: Popularity, rng: np.random.Generator
) -> pd.DataFrame:
    """Draw the lines of all orders.

    Returns
    -------
    pandas.DataFrame
        One row a line: order (row of `orders`), line_no, sku (position in the catalogue), quantity. A SKU stands at
        most once on an order.
    """
    companion = _companions(popularity, rng=rng)
    group = orders["group"].to_numpy()
    first = _pick(popularity, group=group, low=np.zeros(len(orders)), high=np.ones(len(orders)), rng=rng)
    slots = [first] + [
        _further(popularity, group=group, first=first, companion=companion, rng=rng) for _ in range(MAX_LINES - 1)
    ]
    lines = pd.DataFrame(
        {
            "order": np.tile(np.arange(len(orders)), MAX_LINES),
            "slot": np.repeat(np.arange(MAX_LINES), len(orders)),
            "sku": popularity.order[np.concatenate(slots)],
        }
    )
    lines = lines[lines["slot"] < np.tile(orders["n_lines"].to_numpy(), MAX_LINES)]
    lines = lines.sort_values(["order", "slot"]).drop_duplicates(["order", "sku"]).drop(columns="slot")
    lines["quantity"] = _quantities(lines, orders=orders, catalogue=catalogue, rng=rng)
    return number_lines(lines)


def number_lines(lines: pd.DataFrame) -> pd.DataFrame:
    """Number the lines of each order from 1."""
    return lines.assign(line_no=lines.groupby("order").cumcount() + 1).reset_index(drop=True)


def _companions(popularity: Popularity, *, rng: np.random.Generator) -> np.ndarray:
    """Give each SKU one other of its family, drawn by the popularity of the last week, as its usual companion."""
    n_skus = len(popularity.order)
    last_group = np.full(n_skus, len(popularity.cumulated) - len(HABITS))
    here = np.arange(n_skus)
    drawn = _pick_from_family(popularity, group=last_group, position=here, rng=rng)
    neighbour = np.where(here + 1 < popularity.family_end, here + 1, popularity.family_first)
    return np.where(drawn == here, neighbour, drawn)


def _further(
    popularity: Popularity, *, group: np.ndarray, first: np.ndarray, companion: np.ndarray, rng: np.random.Generator
) -> np.ndarray:
    way = rng.random(len(group))
    of_family = _pick_from_family(popularity, group=group, position=first, rng=rng)
    any_sku = _pick(popularity, group=group, low=np.zeros(len(group)), high=np.ones(len(group)), rng=rng)
    # A companion that is not on sale in that week is not picked: its share of the week is nil.
    partner = companion[first]
    share = popularity.cumulated[group, partner + 1] - popularity.cumulated[group, partner]
    with_companion = np.where(share > 0, partner, of_family)
    return np.select(
        [way < COMPANION_SHARE, way < COMPANION_SHARE + FAMILY_SHARE], [with_companion, of_family], any_sku
    )


def _pick_from_family(
    popularity: Popularity, *, group: np.ndarray, position: np.ndarray, rng: np.random.Generator
) -> np.ndarray:
    low = popularity.cumulated[group, popularity.family_first[position]]
    high = popularity.cumulated[group, popularity.family_end[position]]
    return _pick(popularity, group=group, low=low, high=high, rng=rng)


def _pick(
    popularity: Popularity, *, group: np.ndarray, low: np.ndarray, high: np.ndarray, rng: np.random.Generator
) -> np.ndarray:
    """Invert the cumulated share of each order's group at a uniform number between `low` and `high`."""
    point = low + (high - low) * rng.random(len(group))
    n_skus = popularity.cumulated.shape[1] - 1
    # All groups in one search: row g of the shares, raised by 2 g, lies above row g - 1.
    raised = (popularity.cumulated[:, 1:] + 2 * np.arange(len(popularity.cumulated))[:, np.newaxis]).ravel()
    position = np.searchsorted(raised, point + 2 * group, side="right") - group * n_skus
    within: np.ndarray = np.clip(position, 0, n_skus - 1)
    return within


def _quantities(
    lines: pd.DataFrame, *, orders: pd.DataFrame, catalogue: Catalogue, rng: np.random.Generator
) -> np.ndarray:
    channel = orders["channel"].to_numpy()[lines["order"]]
    net_kg = sku_traits(catalogue)["net_g"].to_numpy()[lines["sku"]] / 1000
    mean_extra = np.array(list(MEAN_EXTRA_SPOOLS.values()))[channel] / np.sqrt(np.maximum(net_kg, 0.5))
    quantity = rng.geometric(1 / (1 + mean_extra))
    is_bulk = rng.random(len(lines)) < BULK_SHARE
    asked: np.ndarray = np.minimum(np.where(is_bulk, quantity * BULK_FACTOR, quantity), MAX_SPOOLS)
    return asked
