"""What the search improves, free of the trade's records: lines, families of SKUs, and costs as tables.

A plan gives each line an ordered sequence of lots; a lot is one family with a number of units of each of its SKUs.

- Time: a lot begins its setup when the line is free and not before its family's release, winds after the setup, and
  arrives on the day that the line's arrival table gives for the minute at which it ends.
- Items: all lots together take no more of an item than there is.
- Cost: of each setup, by pair and line; of what a line holds at the end; and of each SKU for each day, as a table over
  the units that have arrived by then. Tardiness, deadlines, holding, expected misses are all such tables: what is not
  made by a day costs that day's entry.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from stockplan.planner.core.timing import Span

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NOTHING = -1
# A minute that is none.
NEVER = -(2**40)


@dataclass(frozen=True)
class SearchLine:
    """One line (machine), F families and S SKUs.

    Parameters
    ----------
    setup_min : (F + 1, F) minutes from row to column; the last row is an empty line.
    setup_cost : (F + 1, F + 1) cost from row to column; the last column is the end of the plan.
    unit_min : (S,) minutes of one unit; infinite where the line cannot make it.
    arrival_day : (A, M) day on which what ends by a minute arrives, one row for each way of finishing. The last minute
        stands for every later one.
    holds
        Family held at the start, `NOTHING` where empty.
    work, setups
        Spans of minutes in which the line runs and in which setups can be made; None: always.
    stops_outside
        False: a lot once begun goes on outside `work`.
    """

    setup_min: Ints
    setup_cost: Floats
    unit_min: Floats
    arrival_day: Ints
    holds: int = NOTHING
    free_min: int = 0
    start_up_min: float = 0.0
    work: Sequence[Span] | None = None
    setups: Sequence[Span] | None = None
    stops_outside: bool = True


@dataclass(frozen=True)
class SearchItems:
    """What units are made of.

    Parameters
    ----------
    use : (S, I) of each item in one unit.
    stock : (I,) that there is, not negative.
    """

    use: Floats
    stock: Floats


@dataclass(frozen=True)
class SearchPurge:
    """What setups take.

    Parameters
    ----------
    kg : (L, F + 1, F) from row to column on each line; the last row is an empty line.
    item, share : (F, J) items in it, `NOTHING` where it has fewer, and their shares.
    spared : (I,) what the stock of items leaves out for purge.
    """

    kg: Floats
    item: Ints
    share: Floats
    spared: Floats


@dataclass(frozen=True)
class SearchHopper:
    """A hopper at the start.

    Parameters
    ----------
    capacity_kg
        That it is filled with whenever it is loaded.
    feeds
        It dries as it feeds, so much in the time of drying; else it holds one load at a time.
    clean_min
        Minutes to empty it of another material.
    holds
        Material in it, `NOTHING` where empty.
    dries_since
        Minute since when that dries, `NEVER` where it does not.
    left_kg
        Of it that lots may still take.
    """

    capacity_kg: float
    feeds: bool
    clean_min: int
    holds: int
    dries_since: int
    left_kg: float
    free_min: int


@dataclass(frozen=True)
class SearchDryers:
    """Hoppers, the one to prefer among equals first, and what lots take of them; M materials.

    Parameters
    ----------
    material : (F,) that a family is made of, `NOTHING` where it is not dried.
    dry_min, keeps_min : (M,) minutes of drying, and for which it keeps after.
    unit_kg : (L, S) of resin in one unit.
    resin_share : (F,) of what a setup purges.
    kg_h : (L, F) that a line makes in an hour.
    """

    hoppers: Sequence[SearchHopper]
    material: Ints
    dry_min: Ints
    keeps_min: Ints
    unit_kg: Floats
    resin_share: Floats
    kg_h: Floats


@dataclass(frozen=True)
class SearchFinishing:
    """Room for what is made: N oven loads, O ovens, M packing mornings; A ways of finishing with G gates each.

    Parameters
    ----------
    gate_min : (A, G) last minutes at which units join, rising.
    load : (A, G) oven load of each gate, `NOTHING` where nothing dries.
    shelf, day : (A, G) packing morning of each gate, and the day on which what is packed then arrives.
    places : (N, O) free.
    packing : (M,) units that can be packed.
    places_each : (S,) that a unit takes.
    fits : (S, O) whether an SKU may go into an oven.
    """

    gate_min: Ints
    load: Ints
    shelf: Ints
    day: Ints
    places: Floats
    packing: Ints
    places_each: Floats
    fits: NDArray[np.bool_]


@dataclass(frozen=True)
class SearchProblem:
    """Lines, families and costs.

    Parameters
    ----------
    family_of : (S,) family of each SKU.
    costs : for each SKU (Q + 1, T): cost of each day with 0..Q units arrived by it. Q is the most that may be made.
    release_min : (F,) minute before which no setup to the family begins.
    finish : (F,) row of `SearchLine.arrival_day` that the family follows.
    items
        Left out: nothing runs short.
    purge
        What setups take of items; None: nothing. A unit for which it leaves too little costs more than it is worth.
    dryers
        Hoppers that lots share; None: nothing is dried.
    finishing
        Room that lots share after the lines; None: without limit, and each lot arrives by its line's table.
    crews
        Windows of minutes (from, to, setups at once), disjoint; none given: as many as there are lines. The line that
        is free first decides first; equal, the first of them.
    """

    lines: Sequence[SearchLine]
    family_of: Ints
    costs: Sequence[Floats]
    release_min: Ints
    finish: Ints
    items: SearchItems | None = None
    crews: Sequence[tuple[int, int, int]] = ()
    purge: SearchPurge | None = None
    dryers: SearchDryers | None = None
    finishing: SearchFinishing | None = None

    def __post_init__(self) -> None:
        families, skus = len(self.release_min), len(self.family_of)
        if not self.lines or not skus:
            raise ValueError(f"a search needs lines and SKUs, got {len(self.lines)} and {skus}")
        if len(self.costs) != skus or len({table.shape[1] for table in self.costs}) != 1:
            raise ValueError(f"every one of the {skus} SKUs needs a cost table over the same days")
        for at, line in enumerate(self.lines):
            shapes = (line.setup_min.shape, line.setup_cost.shape, line.unit_min.shape)
            if shapes != ((families + 1, families), (families + 1, families + 1), (skus,)):
                raise ValueError(f"line {at}: setups and unit minutes have shapes {shapes}")
        if self.items is not None and self.items.use.shape != (skus, len(self.items.stock)):
            raise ValueError(f"use of {len(self.items.stock)} items by {skus} SKUs has shape {self.items.use.shape}")

    @property
    def items_of(self) -> SearchItems:
        """Items; none where nothing runs short."""
        return self.items or SearchItems(np.zeros((len(self.family_of), 0)), np.zeros(0))

    @property
    def unshared(self) -> SearchProblem:
        """The same problem without hoppers, room and purge that lots share: a move is timed several times as fast."""
        return replace(self, purge=None, dryers=None, finishing=None)

    @property
    def days(self) -> int:
        """Days of the cost tables."""
        return int(self.costs[0].shape[1])


@dataclass(frozen=True)
class SearchLot:
    """Units of each SKU of one family, in the order in which the family's SKUs stand in the problem."""

    family: int
    units: tuple[int, ...]


SearchPlan = tuple[tuple[SearchLot, ...], ...]


@dataclass(frozen=True)
class Budget:
    """Work that a search may do. Counted in moves tried, never in seconds, so that equal facts give equal plans.

    Parameters
    ----------
    moves
        Moves tried in each round.
    rounds
        Anneals, each from the best plan so far; where only the order of lots is open, those of the first half begin
        in random order, as from one order on the search may come to rest apart from the best.
    least_gain
        0: anneal. Above: change the plan only by moves that gain more than so much each, so that it stays much as it
        is.
    """

    moves: int
    rounds: int = 1
    seed: int = 1
    least_gain: float = 0.0


@dataclass(frozen=True)
class Found:
    """The best plan of a search and its cost."""

    plan: SearchPlan
    cost: float
