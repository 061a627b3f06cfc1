"""The cheapest lots of every family at given prices of what couples them: see `bound`."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from stockplan.planner.core.search.path_tables import LotPrices, Paths, paths_of
from stockplan.planner.core.search.problem import Floats, Ints
from stockplan.planner.core.search.relaxed import Relaxed
from stockplan.planner.core.search.visits import Visits

Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class Load:
    """Prices of what families share, or how much of it they use.

    Parameters
    ----------
    minutes : (P, D) of what arrives by each day.
    holding : (K, D + 1) lines that go on with a family, by class; at the start, and when each day closes.
    items : (I,)
    last : (1,) lots that end after the last setup.
    visits : (F, V) lots of a family beyond the visits of lines to it, on the days on which these are priced.
    taken_back : (S, D) units that a later lot takes off what is there.
    """

    minutes: Floats
    holding: Floats
    items: Floats
    last: Floats
    visits: Floats
    taken_back: Floats


@dataclass(frozen=True)
class _Lots:
    """The cheapest lot of a kind, (F, D): its cost beside units and holding, its pool, its minutes."""

    cost: Floats
    pool: Ints
    minutes: Floats


class Families:
    """The families of a relaxed problem, with room for their lots."""

    def __init__(self, r: Relaxed) -> None:
        self._r = r
        self._paths, self._scratch = paths_of(r.tables)
        self._visits = Visits(r.groups, days=r.visit_days)

    @property
    def lots(self) -> tuple[Ints, Floats]:
        """The last cheapest lots: (F, D) one where a lot arrives, (S, D) units made."""
        return self._paths.is_lot.copy(), self._paths.made.copy()

    def cheapest(self, price: Load) -> tuple[float, Load]:
        """Return the cost of all families at prices, and what they use."""
        # numba takes long to import, and most of the service never plans.
        from stockplan.planner.core.search.paths import cheapest_paths  # noqa: PLC0415

        r = self._r
        pi = np.cumsum(price.minutes[:, ::-1], axis=1)[:, ::-1]
        unit, unit_pool = _least(r.unit_min, pi)
        unit = np.where(np.isfinite(unit) & ~r.late[r.family_of], unit, 0.0) + (r.items.use @ price.items)[:, None]
        unit -= price.taken_back
        other, own, first = (_lots(r, minutes, pi, price.last) for minutes in (r.lot_min, r.own_min, r.first_min))
        held = np.cumsum(price.holding, axis=1)[r.class_of]
        anew, ready = other.cost + r.lot_cost[:, None], first.cost + held[:, :-1]
        unit = np.append(unit, np.zeros((len(unit), 1)), axis=1)
        visit = np.zeros(r.late.shape)
        visit[:, : r.visit_days] = price.visits
        prices = LotPrices(unit, np.minimum(anew, ready) + visit, own.cost + visit, held)
        cost = cheapest_paths(r.tables, prices, self._paths, self._scratch)
        visited = self._visits.cheapest(pi, price.visits)
        used = _used(r, self._paths, unit_pool, (other, own, first), ready <= anew)
        return cost + visited.cost + r.fixed, replace(
            used,
            minutes=used.minutes + np.cumsum(visited.minutes, axis=1),
            visits=used.visits - visited.visits,
        )


def _least(minutes: Floats, pi: Floats) -> tuple[Floats, Ints]:
    """Least price (X, D) of minutes (P, X) over the pools, and the pool that has it."""
    priced = np.where(np.isfinite(minutes), minutes, 0.0)[:, :, None] * pi[:, None, :]
    priced[~np.isfinite(minutes)] = np.inf
    return priced.min(axis=0), priced.argmin(axis=0)


def _lots(r: Relaxed, minutes: Floats, pi: Floats, last: Floats) -> _Lots:
    cost, pool = _least(minutes, pi)
    taken = np.where(r.late, 0.0, minutes[pool, np.arange(len(pool))[:, None]])
    return _Lots(np.where(r.late & np.isfinite(cost), last, cost), pool, taken)


def _used(r: Relaxed, paths: Paths, unit_pool: Ints, lots: tuple[_Lots, _Lots, _Lots], is_ready: Mask) -> Load:
    """Return what the lots on the best paths use."""
    is_own = paths.is_own == 1
    is_first = (paths.is_lot == 1) & ~is_own & is_ready
    kinds = (paths.is_lot == 1) & ~is_own & ~is_ready, is_own, is_first
    charged = paths.made * ~r.late[r.family_of]
    minutes = np.zeros_like(r.capacity)
    for pool in range(len(minutes)):
        of_unit = np.where(np.isfinite(r.unit_min[pool]), r.unit_min[pool], 0.0)
        minutes[pool] = of_unit @ np.where(unit_pool == pool, charged, 0.0)
        for lot, is_kind in zip(lots, kinds, strict=True):
            minutes[pool] += np.where(is_kind & (lot.pool == pool), lot.minutes, 0.0).sum(axis=0)
    last = np.array([float((paths.is_lot * r.late).sum())])
    return Load(
        np.cumsum(minutes, axis=1),
        _holding(r, paths.after, is_own, is_first),
        r.items.use.T @ paths.made.sum(axis=1),
        last,
        paths.is_lot[:, : r.visit_days].astype(np.float64),
        -paths.made,
    )


def _holding(r: Relaxed, after: Ints, is_own: Mask, is_first: Mask) -> Floats:
    """Lines that go on with a family: from the lot before, or from the start, until the day of the lot closes."""
    changes = np.zeros((r.classes, after.shape[1] + 2))
    for is_kind in (is_own, is_first):
        family, day = np.nonzero(is_kind)
        since = np.where(is_own[family, day], after[family, day] + 1, 0)
        np.add.at(changes, (r.class_of[family], since), 1.0)
        np.subtract.at(changes, (r.class_of[family], day + 1), 1.0)
    return np.cumsum(changes, axis=1)[:, :-1]
