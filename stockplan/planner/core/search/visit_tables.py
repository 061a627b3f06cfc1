"""What the compiled visits of a line read and write: see `visit_paths`."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from stockplan.planner.core.search.problem import Floats, Ints

# Stands for "never" where infinity times nothing would not be a number.
NEVER = 1e12


class Walk(NamedTuple):
    """The ways of the lines of one pool. F families in order: by group, the highest first.

    Parameters
    ----------
    order : (F,) family at each place.
    group : (F,) its group.
    first : (G + 1,) first place of each group.
    height : (F,)
    ways : (2**G, G, G) minutes from holding a group through exactly a set of groups to the last one.
    """

    order: Ints
    group: Ints
    first: Ints
    height: Floats
    ways: Floats


class VisitRoom(NamedTuple):
    """Room to find the visits of one line in: V days, F places, G groups.

    Parameters
    ----------
    worth : (V, F + 1) of all families before each place.
    up, highest : (V, F) cost of also going up from a place, the visits on the way included, and how far is best.
    down, lowest : (V, F) cost of also going down and coming back.
    cost : (V + 1, F) of the visits until a day, by the place that the line holds then.
    before, through : (V, F) place held at the beginning of the day; the groups gone through, none if the line stays.
    left, left_at : (2, G) cost and place from which a group is best left: with visits to it before, and without.
    entered, entered_from, entered_through : (2, G) cost of entering a group, from which place and through which groups:
        from another one, and coming back to it.
    visits, minutes : (F, V), (V,) what was found.
    """

    worth: Floats
    up: Floats
    highest: Ints
    down: Floats
    lowest: Ints
    cost: Floats
    before: Ints
    through: Ints
    left: Floats
    left_at: Ints
    entered: Floats
    entered_from: Ints
    entered_through: Ints
    visits: Floats
    minutes: Floats

    @classmethod
    def of(cls, *, families: int, groups: int, days: int) -> VisitRoom:
        """Return room of some size."""
        by_day = (days, families)
        return cls(
            worth=np.zeros((days, families + 1)),
            up=np.zeros(by_day),
            highest=np.zeros(by_day, dtype=np.int64),
            down=np.zeros(by_day),
            lowest=np.zeros(by_day, dtype=np.int64),
            cost=np.zeros((days + 1, families)),
            before=np.zeros(by_day, dtype=np.int64),
            through=np.zeros(by_day, dtype=np.int64),
            left=np.zeros((2, groups)),
            left_at=np.zeros((2, groups), dtype=np.int64),
            entered=np.zeros((2, groups)),
            entered_from=np.zeros((2, groups), dtype=np.int64),
            entered_through=np.zeros((2, groups), dtype=np.int64),
            visits=np.zeros((families, days)),
            minutes=np.zeros(days),
        )


def ways_through(beyond: Floats) -> Floats:
    """Return the least minutes (2**G, G, G) from holding a group through exactly a set of groups to the last one.

    The group held is in the set only if the line comes back to it.
    """
    count = len(beyond)
    onwards = np.where(np.eye(count, dtype=bool), NEVER, beyond)
    ways = np.full((2**count, count, count), NEVER)
    ways[0] = np.where(np.eye(count, dtype=bool), 0.0, NEVER)
    for chosen in range(1, 2**count):
        for last in range(count):
            if chosen >> last & 1:
                before = ways[chosen & ~(1 << last)]
                ways[chosen, :, last] = (before + onwards[None, :, last]).min(axis=1)
    return np.minimum(ways, NEVER)
