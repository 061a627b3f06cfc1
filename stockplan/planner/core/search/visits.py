"""What lines pay at least for the order of families, such as of other materials and of lighter shades: see `bound`.

A line visits a family on a day if a lot of it arrives from that line on that day. Lots of one line arrive in the order
in which they are made, so it goes through what it visits on a day, and then on to that of the next. Each setup takes
some minutes beyond the least into its family:

- Between groups of families, such as materials, `beyond` at least.
- Within a group each family stands at some height: going up takes at least the difference of the heights, wherever the
  line stops on its way, going down may take nothing. So what counts is how high and how low a line goes on a day, and
  it visits all that stands between, if it is worth it.

The cheapest visits of a line are a shortest path over days and the family held at the end of each; `visit_paths` finds
it.

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
from scipy.sparse.csgraph import csgraph_from_dense, shortest_path
from scipy.spatial.distance import squareform

from stockplan.planner.core.search.problem import NOTHING, Floats, Ints
from stockplan.planner.core.search.visit_tables import NEVER, VisitRoom, Walk, ways_through

# Sets of groups are gone through one by one.
MOST_GROUPS = 6


@dataclass(frozen=True)
class Groups:
    """G groups of F families, P pools of equal lines and K kinds of them.

    Parameters
    ----------
    of : (F,) group of each family.
    beyond : (P, G, G) minutes that a setup from a family of one group to one of another takes at least beyond the
        least setup into the latter; `NEVER` where the lines of a pool make nothing of a group.
    height : (P, F) within a group, a setup takes at least as much beyond the least as it goes up; `NEVER` where the
        lines of a pool cannot come to a family.
    pool, holds, lines : (K,) pool of each kind, the family that it holds at the start (`NOTHING`: none), how many.
    """

    of: Ints
    beyond: Floats
    height: Floats
    pool: Ints
    holds: Ints
    lines: Ints

    @property
    def count(self) -> int:
        """How many groups there are."""
        return int(self.beyond.shape[1])

    @property
    def order_counts(self) -> bool:
        """Whether any order of families takes longer than another."""
        return self.count > 1 or bool(self.height.any())


def together(families: int) -> Groups:
    """Return all families as one group of one height."""
    none = np.zeros(0, dtype=np.int64)
    return Groups(np.zeros(families, dtype=np.int64), np.zeros((1, 1, 1)), np.zeros((1, families)), none, none, none)


def groups_of(excess: Floats, *, pools: Sequence[int], holds: Sequence[int]) -> Groups:
    """Return groups between which setups are long, heights within them, and the lines by kind.

    Parameters
    ----------
    excess : (P, F, F) minutes of each setup of a pool beyond the least into its column; infinite where it makes none.
    pools, holds : pool of each line, and the family that it holds at the start, `NOTHING` where empty.
    """
    of = _clusters(excess)
    excess = np.minimum(excess, NEVER)
    seen = sorted(set(zip(pools, holds, strict=True)))
    pool, held = (np.array(each, dtype=np.int64) for each in zip(*seen, strict=True))
    kinds = list(zip(pools, holds, strict=True))
    return Groups(
        of,
        np.stack([_between(minutes, of) for minutes in excess]),
        np.stack([_heights(minutes, of) for minutes in excess]),
        pool,
        held,
        np.array([kinds.count(kind) for kind in seen], dtype=np.int64),
    )


def _clusters(excess: Floats) -> Ints:
    """Return the group of each family: a setup within a group is short in one direction at least."""
    either = np.minimum(excess, excess.transpose(0, 2, 1)).min(axis=0)
    apart = np.where(np.isfinite(either), either, np.max(either, where=np.isfinite(either), initial=0.0))
    np.fill_diagonal(apart, 0.0)
    of = fcluster(linkage(squareform(apart), "single"), MOST_GROUPS, "maxclust")
    return np.asarray(np.unique(of, return_inverse=True)[1], dtype=np.int64)


def _between(minutes: Floats, of: Ints) -> Floats:
    """Return the least minutes from one group to another, by way of others where that is shorter."""
    count = int(of.max()) + 1
    between = np.full((count, count), NEVER)
    np.minimum.at(between, (of[:, None], of[None, :]), minutes)
    np.fill_diagonal(between, 0.0)
    return _shortest(between)


def _heights(minutes: Floats, of: Ints) -> Floats:
    """Return how far up each family is from one of its group: the one from which all others are farthest."""
    height = np.zeros(len(of))
    for group in range(int(of.max()) + 1):
        families = np.flatnonzero(of == group)
        far = _shortest(minutes[np.ix_(families, families)])
        height[families] = far[int(np.where(far < NEVER, far, 0.0).sum(axis=1).argmax())]
    return height


def _shortest(minutes: Floats) -> Floats:
    """Return the minutes from each to each by the shortest way, over any number of others."""
    # As entries of a sparse matrix, setups that take nothing are ways too.
    ways = shortest_path(csgraph_from_dense(minutes, null_value=NEVER), method="FW")
    return np.asarray(np.minimum(ways, NEVER))


@dataclass(frozen=True)
class Visited:
    """The cheapest visits of all lines: their cost, the minutes (P, D) that they take, how many (F, D)."""

    cost: float
    minutes: Floats
    visits: Floats


class Visits:
    """The visits of lines to families, with room to find them in."""

    def __init__(self, groups: Groups, *, days: int) -> None:
        self._walks = [_walk(groups, pool) for pool in range(len(groups.height))]
        self._kinds = list(zip(groups.pool.tolist(), groups.holds.tolist(), groups.lines.tolist(), strict=True))
        self._room = VisitRoom.of(families=len(groups.of), groups=groups.count, days=days)

    def cheapest(self, pi: Floats, worth: Floats) -> Visited:
        """Return the cheapest visits at prices of a minute (P, D) and worths of a visit to each family (F, V)."""
        # numba takes long to import, and most of the service never plans.
        from stockplan.planner.core.search.visit_paths import cheapest_visits  # noqa: PLC0415

        cost, minutes, visits, days = 0.0, np.zeros(pi.shape), np.zeros(worth.shape), worth.shape[1]
        for pool, held, lines in self._kinds:
            walk = self._walks[pool]
            at = NOTHING if held == NOTHING else int(np.flatnonzero(walk.order == held)[0])
            able = walk.height[:, None] < NEVER
            price = np.ascontiguousarray(pi[pool, :days])
            cost += lines * cheapest_visits(walk, price, worth[walk.order] * able, at, self._room)
            minutes[pool, :days] += lines * self._room.minutes
            visits[walk.order] += lines * self._room.visits * able
        return Visited(cost, minutes, visits)


def _walk(groups: Groups, pool: int) -> Walk:
    """Put families in order: by group, the highest first."""
    order = np.lexsort((-groups.height[pool], groups.of))
    first = np.searchsorted(groups.of[order], np.arange(groups.count + 1))
    return Walk(order, groups.of[order], first, groups.height[pool][order], ways_through(groups.beyond[pool]))
