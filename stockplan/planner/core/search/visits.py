"""What lines pay at least to go over from one group of families to another, such as of another material: see `bound`.

A line visits a group on a day if a lot of the group arrives from it on that day. Lots of one line arrive in the order
in which they are made, so it goes through the groups that it visits on a day, and then on to those of the next. Each
change of group takes some minutes beyond the least setup that the lot after it is charged. A visit is worth the sum of
the prices of the families of the group; the cheapest visits are a shortest path over days, sets of groups visited and
the group held at the end.

References
----------
Held & Karp, A dynamic programming approach to sequencing problems, Journal of SIAM 10 (1962) 196-210 (from memory):
least ways through a set.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.cluster.hierarchy import fcluster, linkage
from scipy.spatial.distance import squareform

from stockplan.planner.core.search.problem import NOTHING, Floats, Ints

# Sets of groups are gone through one by one.
MOST_GROUPS = 6
# Stands for "never" where infinity times nothing would not be a number.
NEVER = 1e12


@dataclass(frozen=True)
class Groups:
    """G groups of F families, and K kinds of lines. One group: nothing is known of what sets families apart.

    Parameters
    ----------
    of : (F,) group of each family.
    beyond : (K, G, G) minutes that a setup from a family of one group to one of another takes at least beyond the
        least setup into the latter; `NEVER` where the lines of a kind make nothing of a group.
    pool, holds, lines : (K,) pool of each kind, the group that it holds at the start (`NOTHING`: none), how many.
    """

    of: Ints
    beyond: Floats
    pool: Ints
    holds: Ints
    lines: Ints

    @property
    def count(self) -> int:
        """How many groups there are."""
        return int(self.beyond.shape[1])


def together(families: int) -> Groups:
    """Return all families as one group."""
    none = np.zeros(0, dtype=np.int64)
    return Groups(np.zeros(families, dtype=np.int64), np.zeros((0, 1, 1)), none, none, none)


def groups_of(excess: Floats, *, pools: Sequence[int], holds: Sequence[int]) -> Groups:
    """Return groups between which setups are long, and the lines by kind.

    Parameters
    ----------
    excess : (P, F, F) minutes of each setup of a pool beyond the least into its column; infinite where it makes none.
    pools, holds : pool of each line, and the family that it holds at the start, `NOTHING` where empty.
    """
    either = np.minimum(excess, excess.transpose(0, 2, 1)).min(axis=0)
    apart = np.where(np.isfinite(either), either, np.max(either, where=np.isfinite(either), initial=0.0))
    np.fill_diagonal(apart, 0.0)
    of = fcluster(linkage(squareform(apart), "single"), MOST_GROUPS, "maxclust").astype(np.int64) - 1
    of = np.unique(of, return_inverse=True)[1]
    between = np.full((len(excess), int(of.max()) + 1, int(of.max()) + 1), NEVER)
    for least, minutes in zip(between, np.minimum(excess, NEVER), strict=True):
        np.minimum.at(least, (of[:, None], of[None, :]), minutes)
        np.fill_diagonal(least, 0.0)
    kinds = [
        (pool, NOTHING if family == NOTHING else int(of[family])) for pool, family in zip(pools, holds, strict=True)
    ]
    seen = sorted(set(kinds))
    pool, held = (np.array(each, dtype=np.int64) for each in zip(*seen, strict=True))
    return Groups(of, between[pool], pool, held, np.array([kinds.count(kind) for kind in seen], dtype=np.int64))


@dataclass(frozen=True)
class Visited:
    """The cheapest visits of all lines: their cost, the minutes (P, D) that they take, how many (G, D)."""

    cost: float
    minutes: Floats
    visits: Floats


class Visits:
    """The visits of some groups, with what ways through all sets of groups take."""

    def __init__(self, groups: Groups, *, pools: int) -> None:
        self._groups, self._pools = groups, pools
        self._is_in = np.arange(2**groups.count)[:, None] >> np.arange(groups.count) & 1
        self._ways = _ways(groups.beyond)
        self._is_no_way = self._ways >= NEVER

    def cheapest(self, pi: Floats, worth: Floats) -> Visited:
        """Return the cheapest visits at prices of a minute (P, D) and worths of a visit to each group (G, D)."""
        g, days = self._groups, worth.shape[1]
        kinds = np.arange(len(g.pool))
        cost = np.where((g.holds[:, None] == NOTHING) | (g.holds[:, None] == np.arange(g.count)), 0.0, NEVER)
        best = np.zeros((days, len(kinds), g.count), dtype=np.int64)
        for day in range(days):
            price = np.where(self._is_no_way, NEVER, pi[g.pool, day][:, None, None, None] * self._ways)
            price -= (self._is_in @ worth[:, day])[:, None, None]
            total = (price + cost[:, None, :, None]).reshape(len(kinds), -1, g.count)
            best[day] = total.argmin(axis=1)
            cost = total.min(axis=1)
        at, value = cost.argmin(axis=1), float(g.lines @ cost.min(axis=1))
        minutes, visits = np.zeros((self._pools, pi.shape[1])), np.zeros(worth.shape)
        for day in range(days - 1, -1, -1):
            chosen, before = np.divmod(best[day, kinds, at], g.count)
            np.add.at(minutes[:, day], g.pool, g.lines * self._ways[kinds, chosen, before, at])
            visits[:, day] = g.lines @ self._is_in[chosen]
            at = before
        return Visited(value, minutes, visits)


def _ways(beyond: Floats) -> Floats:
    """Return the least minutes (K, 2**G, G, G) from holding a group through exactly a set of groups to the last one."""
    kinds, count, _ = beyond.shape
    ways = np.full((kinds, 2**count, count, count), NEVER)
    ways[:, 0] = np.where(np.eye(count, dtype=bool), 0.0, NEVER)
    for chosen in range(1, 2**count):
        for last in range(count):
            if chosen >> last & 1:
                before = ways[:, chosen & ~(1 << last)]
                ways[:, chosen, :, last] = (before + beyond[:, None, :, last]).min(axis=2)
    return np.minimum(ways, NEVER)
