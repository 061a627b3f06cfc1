"""A search problem with all that couples its families taken out: what `bound` prices and puts together again."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from stockplan.planner.core.search.path_tables import Tables
from stockplan.planner.core.search.problem import NOTHING, Floats, Ints, SearchItems, SearchLine, SearchProblem
from stockplan.planner.core.search.visits import Groups, groups_of, together
from stockplan.planner.core.timing import Spans

# A family whose items are scarce chooses among so many combinations of units; with more, each SKU for itself.
MOST_CHOICES = 2000


@dataclass(frozen=True)
class Relaxed:
    """D days of arrival, S SKUs, F families, P pools of equal lines.

    Parameters
    ----------
    days : (D,) day of the problem.
    class_of : (F,) families of one class arrive on the same days, whatever the minute at which a lot ends.
    unit_min : (P, S), infinite where a pool cannot make it.
    lot_min : (P, F) least minutes, beside its units, of a lot after one of another family.
    lot_cost : (F,) least cost of the setup into it.
    first_min : (P, F) the same of a lot for which a line stands ready at the start.
    own_min : (P, F) of a lot that goes on after one of its own family.
    late : (F, D) days on which nothing arrives but what ends after the last setup: the last lot of a line.
    capacity : (P, D) minutes of all lines of a pool for what arrives by each day that is not late.
    groups
        What sets families apart; nothing where some arrive on other days than others.
    """

    days: Ints
    tables: Tables
    family_of: Ints
    class_of: Ints
    unit_min: Floats
    lot_min: Floats
    lot_cost: Floats
    first_min: Floats
    own_min: Floats
    late: NDArray[np.bool_]
    capacity: Floats
    lines: int
    items: SearchItems
    fixed: float
    groups: Groups

    @property
    def visit_days(self) -> int:
        """On how many of the first days of arrival visits to families are priced."""
        return int((~self.late[0]).sum()) if self.groups.order_counts else 0

    @property
    def classes(self) -> int:
        """How many classes of families there are."""
        return int(self.class_of.max()) + 1


def relaxed_of(problem: SearchProblem) -> Relaxed:
    """Lay out the relaxed problem."""
    arrival = np.stack([line.arrival_day for line in problem.lines])
    days = np.unique(arrival[arrival < problem.days])
    pools = _pools(problem.lines)
    one = [pool[0] for pool in pools]
    class_of = _classes(arrival, problem.finish)
    return Relaxed(
        days=days,
        tables=_tables(problem, np.append(days, problem.days)),
        family_of=problem.family_of,
        class_of=class_of,
        unit_min=np.stack([line.unit_min for line in one]),
        lot_min=np.stack([_least_min(problem, line) for line in one]),
        lot_cost=np.min([_least_other(line.setup_cost[:, :-1]) for line in problem.lines], axis=0),
        first_min=np.stack([np.min([_first_min(problem, line) for line in pool], axis=0) for pool in pools]),
        own_min=np.repeat([[line.start_up_min] for line in one], len(problem.release_min), axis=1),
        late=days > _last_early(problem.lines)[problem.finish, None],
        capacity=np.stack([np.sum([_capacity(problem, line, days) for line in pool], axis=0) for pool in pools]),
        lines=len(problem.lines),
        items=problem.items_of,
        fixed=float(sum(line.setup_cost[:, -1].min() for line in problem.lines)),
        groups=_groups(problem, pools) if class_of.max() == 0 and len(class_of) > 1 else together(len(class_of)),
    )


def _groups(problem: SearchProblem, pools: Sequence[Sequence[SearchLine]]) -> Groups:
    """Group families that arrive on the same days: only then do lots of a line arrive in the order of the line."""
    lines = [(at, line.holds) for at, pool in enumerate(pools) for line in pool]
    return groups_of(
        np.stack([_excess(problem, pool[0]) for pool in pools]),
        pools=[at for at, _ in lines],
        holds=[holds for _, holds in lines],
    )


def _excess(problem: SearchProblem, line: SearchLine) -> Floats:
    """Minutes of each setup beyond the least into its column, (F, F); infinite where the line makes nothing of it."""
    families = len(problem.release_min)
    setup = np.zeros((families, families)) if _sets_up_outside(line) else line.setup_min[:families].astype(np.float64)
    least = _least_other(setup)
    return np.where(_able(problem, line), np.maximum(setup - least, 0.0), np.inf)


def _most(problem: SearchProblem) -> Ints:
    """Units of each SKU that lines and items allow at most."""
    most = np.array([len(table) - 1 for table in problem.costs], dtype=np.int64)
    use, stock = problem.items_of.use, problem.items_of.stock
    with np.errstate(divide="ignore", invalid="ignore"):
        enough = np.where(use > 0, stock / use, np.inf).min(axis=1, initial=np.inf)
    can_be_made = np.isfinite(np.min([line.unit_min for line in problem.lines], axis=0))
    return np.where(can_be_made, np.minimum(most, np.floor(enough + 1e-9)), 0).astype(np.int64)


def _tables(problem: SearchProblem, ends: Ints) -> Tables:
    """Lay out the rows of all SKUs, costs added up to each day of arrival and to the end."""
    rows = _most(problem) + 1
    costs = (table[:count] for table, count in zip(problem.costs, rows, strict=True))
    paid = np.concatenate(
        [np.hstack([np.zeros((len(table), 1)), np.cumsum(table, axis=1)])[:, ends] for table in costs]
    )
    row = np.concatenate([[0], np.cumsum(rows)[:-1]])
    before = np.zeros((len(problem.release_min), len(ends)))
    np.add.at(before, problem.family_of, paid[row])
    sku = np.argsort(problem.family_of, kind="stable")
    first = np.searchsorted(problem.family_of[sku], np.arange(len(before) + 1))
    choices = [_choices(problem, sku[lo:hi], rows) for lo, hi in pairwise(first.tolist())]
    choice = np.concatenate([[0], np.cumsum([len(units) for units in choices])])
    return Tables(first, sku, row, rows, paid, choice, _side_by_side(choices), before)


def _choices(problem: SearchProblem, skus: Ints, rows: Ints) -> Ints:
    """Return all units of a family's SKUs (C, K) that items allow; none if they allow the most of each at once."""
    use, stock = problem.items_of.use[skus], problem.items_of.stock
    if np.all((rows[skus] - 1) @ use <= stock + 1e-9) or math.prod(rows[skus].tolist()) > MOST_CHOICES:
        return np.zeros((0, len(skus)), dtype=np.int64)
    units = np.indices(tuple(rows[skus].tolist())).reshape(len(skus), -1).T
    return np.asarray(units[np.all(units @ use <= stock + 1e-9, axis=1)], dtype=np.int64)


def _side_by_side(choices: Sequence[Ints]) -> Ints:
    """Return the choices of all families below each other, as wide as the widest."""
    widest = max(units.shape[1] for units in choices)
    return np.concatenate([np.pad(units, ((0, 0), (0, widest - units.shape[1]))) for units in choices])


def _classes(arrival: Ints, finish: Ints) -> Ints:
    seen: dict[bytes, int] = {}
    return np.array([seen.setdefault(arrival[:, row].tobytes(), len(seen)) for row in finish], dtype=np.int64)


def _pools(lines: Sequence[SearchLine]) -> list[list[SearchLine]]:
    """Lines with equal speeds, start-up and setups: they are priced alike."""
    pools: dict[tuple[bytes, bytes, float, bool], list[SearchLine]] = {}
    for line in lines:
        key = (line.unit_min.tobytes(), line.setup_min.tobytes(), line.start_up_min, _sets_up_outside(line))
        pools.setdefault(key, []).append(line)
    return list(pools.values())


def _sets_up_outside(line: SearchLine) -> bool:
    """Say whether a setup may take none of the minutes in which the line works."""
    return line.setups is None and line.work is not None


def _able(problem: SearchProblem, line: SearchLine) -> NDArray[np.bool_]:
    """Families of which the line can make something."""
    able = np.bincount(problem.family_of, weights=np.isfinite(line.unit_min), minlength=len(problem.release_min))
    return np.asarray(able > 0)


def _least_other(setups: Floats) -> Floats:
    """Least entry of each column of (F + 1, F) from another family; an empty line is a matter of the start."""
    families = setups.shape[1]
    return np.asarray(np.where(np.eye(families, dtype=bool), np.inf, setups[:families]).min(axis=0))


def _least_min(problem: SearchProblem, line: SearchLine) -> Floats:
    setup = _least_other(line.setup_min.astype(np.float64))
    if _sets_up_outside(line):
        setup = np.where(np.isfinite(setup), 0.0, setup)
    return np.where(_able(problem, line), setup + line.start_up_min, np.inf)


def _first_min(problem: SearchProblem, line: SearchLine) -> Floats:
    """Minutes of a lot of the family that the line holds at the start; of any, if it is empty then."""
    families = np.arange(len(problem.release_min))
    stands_ready = _able(problem, line) & ((line.holds == NOTHING) | (families == line.holds))
    setup = line.setup_min[-1] if line.holds == NOTHING and not _sets_up_outside(line) else 0.0
    return np.where(stands_ready, setup + line.start_up_min, np.inf)


def _last_early(lines: Sequence[SearchLine]) -> Ints:
    """Return for each way of finishing the last day that is not late: something from before a last setup arrives."""
    return np.asarray(np.max([line.arrival_day[:, : _stop(line) + 1].max(axis=1) for line in lines], axis=0))


def _stop(line: SearchLine) -> int:
    """Return the minute after which no lot begins."""
    never = line.arrival_day.shape[1] - 1
    return never if line.setups is None else min(line.setups[-1][1], never) if line.setups else 0


def _capacity(problem: SearchProblem, line: SearchLine, days: Ints) -> Floats:
    """Return the minutes of a line for what arrives by each day: from the first release to the last that counts."""
    able = _able(problem, line)
    begin = max(line.free_min, int(problem.release_min[able].min())) if able.any() else line.free_min
    early = line.arrival_day <= _last_early(problem.lines)[:, None]
    found = []
    for day in days:
        counts = np.flatnonzero(((line.arrival_day <= day) & early).any(axis=0))
        found.append(_minutes(line, begin, int(counts[-1]) if len(counts) else begin))
    return np.array(found)


def _minutes(line: SearchLine, begin: int, end: int) -> float:
    if line.work is None or not line.stops_outside:
        return float(max(end - begin, 0))
    return float(Spans(tuple(line.work)).minutes(begin, end))
