"""The cheapest lots of every family at given prices of what couples them: see `bound`."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from stockplan.planner.core.search.problem import Floats, Ints
from stockplan.planner.core.search.relaxed import Relaxed


@dataclass(frozen=True)
class Load:
    """Prices of what families share, or how much of it they use.

    Parameters
    ----------
    minutes : (P, D) of what arrives by each day.
    holding : (K, D + 1) lines that go on with a family, by class; at the start, and when each day closes.
    items : (I,)
    last : (1,) lots that end after the last setup.
    """

    minutes: Floats
    holding: Floats
    items: Floats
    last: Floats


class _Lot(IntEnum):
    """After another family, after one of its own, or the first of a line that stands ready."""

    OTHER = 0
    OWN = 1
    FIRST = 2


@dataclass(frozen=True)
class _Lots:
    """The cheapest lot of each kind, (F, D): its cost without holding, and its pool."""

    cost: tuple[Floats, Floats, Floats]
    pool: tuple[Ints, Ints, Ints]


def cheapest(r: Relaxed, price: Load) -> tuple[float, Load]:
    """Return the cost of all families at prices, and what they use."""
    pi = np.cumsum(price.minutes[:, ::-1], axis=1)[:, ::-1]
    unit, unit_pool = _least(r.unit_min, pi)
    is_charged = np.isfinite(unit) & ~r.late[r.family_of]
    unit = np.append(np.where(is_charged, unit, 0.0) + (r.items.use @ price.items)[:, None], _zeros(r), axis=1)
    arc, units = _arcs(r, unit[:, r.pairs[:, 0]] - unit[:, r.pairs[:, 1]])
    lots = _lots(r, pi, price.last)
    held = np.insert(np.cumsum(price.holding, axis=1), 0, 0.0, axis=1)[r.class_of]
    path, before, kind = _shortest(r, arc, lots, held)
    used = _used(r, units, unit_pool, lots, before, kind)
    return float(path[:, -1].sum()) + r.fixed, used


def _zeros(r: Relaxed) -> Floats:
    return np.zeros((len(r.family_of), 1))


def _least(minutes: Floats, pi: Floats) -> tuple[Floats, Ints]:
    """Least price (X, D) of minutes (P, X) over the pools, and the pool that has it."""
    priced = np.where(np.isfinite(minutes), minutes, 0.0)[:, :, None] * pi[:, None, :]
    priced[~np.isfinite(minutes)] = np.inf
    return priced.min(axis=0), priced.argmin(axis=0)


def _arcs(r: Relaxed, step: Floats) -> tuple[Floats, Ints]:
    """Cost (F, A) of each pair of days, and the units (S, A) between them."""
    arc, units = np.zeros((len(r.before), len(r.pairs))), np.zeros(step.shape, dtype=np.int64)
    for group in r.groups:
        priced = group.cost + step[group.rows][:, :, None] * np.arange(group.cost.shape[2])
        units[group.rows] = priced.argmin(axis=2)
        least = np.take_along_axis(priced, units[group.rows][:, :, None], axis=2)[:, :, 0]
        np.add.at(arc, r.family_of[group.rows], least)
    return arc, units


def _lots(r: Relaxed, pi: Floats, last: Floats) -> _Lots:
    families = len(r.before)
    kinds = r.lot_min, np.repeat(r.start_min[:, None], families, axis=1), r.first_min
    priced, pools = zip(*(_least(minutes, pi) for minutes in kinds), strict=True)
    other, own, first = (np.where(r.late & np.isfinite(cost), last, cost) for cost in priced)
    return _Lots((other + r.lot_cost[:, None], own, first), pools)


def _shortest(r: Relaxed, arc: Floats, lots: _Lots, held: Floats) -> tuple[Floats, Ints, Ints]:
    """Return cost, day of the lot before (-1: none) and kind of the best lot of each family on each day."""
    families, count = r.before.shape[0], r.before.shape[1] - 1
    everyone, path = np.arange(families), r.before.copy()
    before, kind = np.full(path.shape, -1), np.full(path.shape, int(_Lot.OTHER))
    for t in range(count + 1):
        anew = np.zeros(families)
        if t < count:
            ready = lots.cost[_Lot.FIRST][:, t] + held[:, t + 1]
            anew = np.minimum(lots.cost[_Lot.OTHER][:, t], ready)
            kind[:, t] = np.where(ready <= lots.cost[_Lot.OTHER][:, t], _Lot.FIRST, _Lot.OTHER)
        path[:, t] += anew
        if t == 0:
            continue
        lot = np.repeat(anew[:, None], t, axis=1)
        if t < count:
            lot = np.minimum(lot, lots.cost[_Lot.OWN][:, [t]] + held[:, [t + 1]] - held[:, 1 : t + 1])
        through = path[:, :t] + arc[:, r.pair_at[:t, t]] + lot
        best = through.argmin(axis=1)
        better = through[everyone, best] < path[:, t]
        path[better, t], before[better, t] = through[everyone, best][better], best[better]
        kind[better & (lot[everyone, best] < anew), t] = _Lot.OWN
    return path, before, kind


def _used(r: Relaxed, units: Ints, unit_pool: Ints, lots: _Lots, before: Ints, kind: Ints) -> Load:
    """Return what the lots on the best paths use."""
    count = before.shape[1] - 1
    used = Load(np.zeros_like(r.capacity), np.zeros((r.classes, count + 1)), np.zeros(0), np.zeros(1))
    on_path = np.zeros((len(before), len(r.pairs)), dtype=bool)
    now = np.full(len(before), count)
    while (rows := np.flatnonzero(before[np.arange(len(before)), now] >= 0)).size:
        s, t = before[rows, now[rows]], now[rows]
        on_path[rows, r.pair_at[s, t]] = True
        _add_lots(r, used, lots, rows, s, kind[rows, s], before[rows, s])
        now[rows] = s
    made = _made(r, units * on_path[r.family_of], count)
    charged = made * ~r.late[r.family_of]
    pools = np.arange(len(r.capacity))[:, None, None] == unit_pool
    each = np.where(np.isfinite(r.unit_min), r.unit_min, 0.0)[:, :, None]
    minutes = used.minutes + (pools * each * charged).sum(axis=1)
    return Load(np.cumsum(minutes, axis=1), used.holding, r.items.use.T @ made.sum(axis=1), used.last)


def _add_lots(r: Relaxed, used: Load, lots: _Lots, family: Ints, day: Ints, kind: Ints, after: Ints) -> None:
    """Add the lots of some families that arrive on a day each, beside their units."""
    used.last[0] += r.late[family, day].sum()
    for each, minutes in ((_Lot.OTHER, r.lot_min), (_Lot.OWN, None), (_Lot.FIRST, r.first_min)):
        rows = np.flatnonzero(kind == each)
        pool = lots.pool[each][family[rows], day[rows]]
        taken = r.start_min[pool] if minutes is None else minutes[pool, family[rows]]
        np.add.at(used.minutes, (pool, day[rows]), taken * ~r.late[family[rows], day[rows]])
    for row in np.flatnonzero(kind != _Lot.OTHER):
        since = 0 if kind[row] == _Lot.FIRST else after[row] + 1
        used.holding[r.class_of[family[row]], since : day[row] + 1] += 1


def _made(r: Relaxed, units: Ints, count: int) -> NDArray[np.float64]:
    """Units made for each day, (S, D), from the units between each pair of days on the best paths."""
    made = np.zeros((count + 1, len(units)))
    np.add.at(made, r.pairs[:, 0], units.T)
    np.subtract.at(made, r.pairs[:, 1], units.T)
    return np.asarray(made[:count].T)
