"""Problem and plan laid out in arrays, as the compiled search reads and writes them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from stockplan.planner.core.search.problem import (
    NOTHING,
    Floats,
    Ints,
    SearchLine,
    SearchLot,
    SearchPlan,
    SearchProblem,
)
from stockplan.planner.core.search.shared_layout import Shared, shared_of
from stockplan.planner.core.timing import Span

# Minutes share one entry of the look-up that says where among the spans to begin to look.
BUCKET = 256
NEAR = 16
LOTS_OF_FAMILY = 12
ALWAYS = ((0, 2**60),)
# A change of a charge that is none.
LEAST_CHARGE = 1e-9


class Layout(NamedTuple):
    """The problem. L lines, F families, S SKUs, K most SKUs of a family, T days, C calendars, W setup tables."""

    days: int
    far: int  # minute that stands for "never"
    sizes: Ints  # (F,) SKUs of the family
    sku: Ints  # (F, K)
    most: Ints  # (S,)
    item: Ints  # (S, J) items in a unit, -1 where it has fewer
    item_use: Floats  # (S, J)
    stock: Floats  # (I,) of each item
    base: Ints  # (S,) first entry of an SKU in `paid`
    paid: Floats  # cost of the days before each day, by SKU, units arrived, day
    release: Ints  # (F,)
    finish: Ints  # (F,)
    near: Ints  # (F + 1, N) families that are good to come from; the last row is the end of the plan
    pair: Floats  # (W, F + 1, F + 1) what a setup is worth avoiding, its minutes priced; see `above_charges`
    table: Ints  # (L,) setup table of a line
    setup_min: Ints  # (W, F + 1, F)
    setup_cost: Floats  # (W, F + 1, F + 1)
    unit_min: Floats  # (L, S)
    start_up: Floats  # (L,)
    arrival: Ints  # (L, A, M)
    holds: Ints  # (L,), F where empty
    free: Ints  # (L,)
    stops: NDArray[np.bool_]  # (L,)
    work: Ints  # (L,) calendar
    setups: Ints  # (L,) calendar
    span_lo: Ints  # (C, N)
    span_hi: Ints  # (C, N)
    spans: Ints  # (C,)
    first_span: Ints  # (C, M / BUCKET + 1)
    opened: Ints  # (C, N + 1) open minutes before each span
    crews: Ints  # (V, 3) windows: from, to, setups at once; none: each line is timed by itself
    shared: Shared
    can_resize: bool  # some SKU may be made in more ways than one lot of one unit


class Plan(NamedTuple):
    """A plan. N lots at most, P places on a line at most."""

    family: Ints  # (N,)
    units: Ints  # (N, K)
    seq: Ints  # (L, P)
    length: Ints  # (L,)
    active: Ints  # (N + 1,) lots on the lines; the last entry counts them


def layout_of(problem: SearchProblem) -> Layout:
    """Lay out a problem."""
    families, days = len(problem.release_min), problem.days
    sku, sizes = _skus(problem.family_of, families)
    most = np.array([len(costs) - 1 for costs in problem.costs], dtype=np.int64)
    base = np.concatenate([[0], np.cumsum((most + 1) * (days + 1))])[:-1].astype(np.int64)
    tables, table = _setup_tables(problem.lines)
    item, item_use = _item_use(problem.items_of.use)
    can_resize = bool((sizes.max() > 1) or (most.max() > 1))
    pair = np.stack([_pair(line, families) for line in tables])
    if not can_resize:
        pair = above_charges(pair)
    calendars = sorted({_spans(spans) for line in problem.lines for spans in (line.work, line.setups)})
    minutes = problem.lines[0].arrival_day.shape[1]
    lo, hi, count, first = _calendars(calendars, minutes)
    return Layout(
        days=days,
        far=minutes - 1,
        sizes=sizes,
        sku=sku,
        most=most,
        item=item,
        item_use=item_use,
        stock=problem.items_of.stock.astype(np.float64),
        base=base,
        paid=np.concatenate([_paid(costs) for costs in problem.costs]),
        release=problem.release_min.astype(np.int64),
        finish=problem.finish.astype(np.int64),
        near=_near(pair, families),
        pair=pair,
        table=table,
        setup_min=np.stack([line.setup_min for line in tables]).astype(np.int64),
        setup_cost=np.stack([line.setup_cost for line in tables]).astype(np.float64),
        unit_min=np.stack([line.unit_min for line in problem.lines]).astype(np.float64),
        start_up=np.array([line.start_up_min for line in problem.lines], dtype=np.float64),
        arrival=np.stack([line.arrival_day for line in problem.lines]).astype(np.int64),
        holds=np.array([families if line.holds == NOTHING else line.holds for line in problem.lines], dtype=np.int64),
        free=np.array([line.free_min for line in problem.lines], dtype=np.int64),
        stops=np.array([line.stops_outside for line in problem.lines], dtype=np.bool_),
        work=np.array([calendars.index(_spans(line.work)) for line in problem.lines], dtype=np.int64),
        setups=np.array([calendars.index(_spans(line.setups)) for line in problem.lines], dtype=np.int64),
        span_lo=lo,
        span_hi=hi,
        spans=count,
        first_span=first,
        opened=np.concatenate([np.zeros((len(lo), 1), dtype=np.int64), np.cumsum(hi - lo, axis=1)], axis=1),
        crews=_crews(problem),
        shared=shared_of(problem),
        can_resize=can_resize,
    )


def plan_arrays(layout: Layout, plan: SearchPlan, *, room: int) -> Plan:
    """Write a plan into arrays with room for further lots."""
    lots = [lot for line in plan for lot in line]
    count = len(lots) + room
    family = np.full(count, NOTHING, dtype=np.int64)
    units = np.zeros((count, layout.sku.shape[1]), dtype=np.int64)
    seq = np.full((len(plan), count), NOTHING, dtype=np.int64)
    at = 0
    for row, line in enumerate(plan):
        for place, lot in enumerate(line):
            family[at], seq[row, place] = lot.family, at
            units[at, : len(lot.units)] = lot.units
            at += 1
    active = np.arange(count + 1)
    active[-1] = at
    return Plan(family, units, seq, np.array([len(line) for line in plan], dtype=np.int64), active)


def plan_of(layout: Layout, arrays: Plan) -> SearchPlan:
    """Read a plan out of arrays."""
    return tuple(
        tuple(
            SearchLot(int(f), tuple(int(n) for n in arrays.units[lot, : layout.sizes[f]]))
            for lot in arrays.seq[line, : arrays.length[line]]
            for f in [arrays.family[lot]]
        )
        for line in range(len(arrays.length))
    )


def _crews(problem: SearchProblem) -> Ints:
    """Windows of the crews; one for ever where lots share something else, as all lines are timed together then."""
    shares = any(each is not None for each in (problem.dryers, problem.finishing, problem.purge))
    windows = problem.crews or (((0, ALWAYS[0][1], len(problem.lines)),) if shares else ())
    return np.array(windows, dtype=np.int64).reshape(-1, 3)


def _skus(family_of: Ints, families: int) -> tuple[Ints, Ints]:
    sizes = np.bincount(family_of, minlength=families).astype(np.int64)
    sku = np.full((families, int(sizes.max())), NOTHING, dtype=np.int64)
    filled = np.zeros(families, dtype=np.int64)
    for s, f in enumerate(family_of):
        sku[f, filled[f]] = s
        filled[f] += 1
    return sku, sizes


def _item_use(use: Floats) -> tuple[Ints, Floats]:
    """Items of each SKU, side by side, and how much of each is in a unit."""
    is_in = use > 0
    item = np.full((len(use), max(int(is_in.sum(axis=1).max()), 1)), NOTHING, dtype=np.int64)
    of_unit = np.zeros(item.shape)
    for s, row in enumerate(is_in):
        items = np.flatnonzero(row)
        item[s, : len(items)], of_unit[s, : len(items)] = items, use[s, items]
    return item, of_unit


def _paid(costs: Floats) -> Floats:
    """Cost of the days before each day, for each number of units: differences are costs of spans of days."""
    return np.concatenate([np.zeros((len(costs), 1)), np.cumsum(costs, axis=1)], axis=1).ravel()


def _setup_tables(lines: Sequence[SearchLine]) -> tuple[list[SearchLine], Ints]:
    """Return lines with different setup tables, and which of them each line uses."""
    found: list[SearchLine] = []
    table = []
    for line in lines:
        same = [
            at
            for at, other in enumerate(found)
            if np.array_equal(other.setup_min, line.setup_min) and np.array_equal(other.setup_cost, line.setup_cost)
        ]
        table.append(same[0] if same else len(found))
        if not same:
            found.append(line)
    return found, np.array(table, dtype=np.int64)


def _pair(line: SearchLine, families: int) -> Floats:
    """Say which setups are worth avoiding: by cost, then by minutes."""
    pair = line.setup_cost.astype(np.float64)
    price = max(float(np.median(np.abs(pair[:families, :families]))), 1.0) / max(float(line.setup_min.max()), 1.0)
    pair[:, :families] += line.setup_min * price
    return pair


def above_charges(pair: Floats) -> Floats:
    """Charge families for what they cost wherever they stand, so that the best setups from and to each are about zero.

    Each order of the same lots pays all charges, so differences between orders stay. Charges are the duals of the
    cheapest assignment of successors: shortest paths over its exchanges.
    """
    worth = pair.mean(axis=0)
    np.fill_diagonal(worth, np.abs(worth).sum())
    _, after = linear_sum_assignment(worth)
    best = worth[np.arange(len(worth)), after]
    to = np.zeros(len(worth))
    # Without cycles that gain, no path has more exchanges than there are rows.
    for _ in worth:
        less = np.minimum(to, ((to[after] - best)[:, None] + worth).min(axis=0))
        if (to - less).max() < LEAST_CHARGE:
            break
        to = less
    return np.asarray(pair - (best - to[after])[:, None] - to)


def _near(pair: Floats, families: int) -> Ints:
    """Families from which a setup is cheapest, and with which it is to end."""
    weight = pair[:, :families, :].mean(axis=0)
    np.fill_diagonal(weight, np.inf)
    order = np.argsort(weight, axis=0, kind="stable").T
    return np.ascontiguousarray(order[:, : min(NEAR, max(families - 1, 1))])


def _spans(spans: Sequence[Span] | None) -> tuple[Span, ...]:
    return ALWAYS if spans is None else tuple(spans)


def _calendars(calendars: Sequence[tuple[Span, ...]], minutes: int) -> tuple[Ints, Ints, Ints, Ints]:
    widest = max(len(spans) for spans in calendars)
    lo = np.zeros((len(calendars), max(widest, 1)), dtype=np.int64)
    hi = np.zeros_like(lo)
    for row, spans in enumerate(calendars):
        lo[row, : len(spans)] = [a for a, _ in spans]
        hi[row, : len(spans)] = [b for _, b in spans]
    begins = np.arange(minutes // BUCKET + 1) * BUCKET
    first = np.stack([np.searchsorted([b for _, b in spans], begins, side="right") for spans in calendars]).astype(
        np.int64
    )
    return lo, hi, np.array([len(spans) for spans in calendars], dtype=np.int64), first
