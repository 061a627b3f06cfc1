"""Moves of lots: resize, transfer (which merges), split, drop, add. A move writes itself on the trial."""

from __future__ import annotations

from stockplan.planner.core.search.compiled import compiled
from stockplan.planner.core.search.costing import count_lot, count_units, room_for, set_duration
from stockplan.planner.core.search.draws import below, draw, step, uniform
from stockplan.planner.core.search.layout import Layout
from stockplan.planner.core.search.order_moves import piece, somewhere, touch
from stockplan.planner.core.search.problem import NOTHING, Ints
from stockplan.planner.core.search.state import EDITED, NEW, STAMP, State, Trial


@compiled
def copy_row(source: Ints, i: int, to: Ints, j: int) -> None:
    """Copy one row of a matrix into a row of another."""
    for k in range(source.shape[1]):
        to[j, k] = source[i, k]


@compiled
def edit(s: State, t: Trial, lot: int) -> None:
    """Remember a lot's units before they are changed for the trial."""
    n = t.counter[EDITED]
    t.edited[n] = lot
    t.edit_stamp[lot] = t.counter[STAMP]
    copy_row(s.units, lot, t.old_units, n)
    copy_row(s.duration, lot, t.old_duration, n)
    t.counter[EDITED] = n + 1


@compiled
def give_up(p: Layout, s: State, t: Trial) -> None:
    """Undo what a move changed for its trial."""
    for n in range(t.counter[EDITED]):
        lot = t.edited[n]
        family = s.family[lot]
        for k in range(p.sizes[family]):
            count_units(p, s, p.sku[family, k], t.old_units[n, k] - s.units[lot, k])
        copy_row(t.old_units, n, s.units, lot)
        copy_row(t.old_duration, n, s.duration, lot)
    if t.new[0] != NOTHING:
        lot = t.new[0]
        count_lot(p, s, lot, -1)
        for k in range(p.sizes[s.family[lot]]):
            s.units[lot, k] = 0
        s.unused[-1] += 1


@compiled
def change_units(p: Layout, s: State, lot: int, k: int, by: int) -> None:
    """Change the units of one SKU in a lot."""
    s.units[lot, k] += by
    count_units(p, s, p.sku[s.family[lot], k], by)


@compiled
def is_empty(s: State, lot: int) -> bool:
    """Say whether a lot has no unit."""
    units = 0
    for k in range(s.units.shape[1]):
        units += s.units[lot, k]
    return units == 0


@compiled
def around(s: State, t: Trial, lot: int) -> None:
    """Keep a lot at its place and time it again, or close the gap if it goes."""
    line, i = s.line[lot], s.place[lot]
    at = touch(t, line, i)
    if is_empty(s, lot):
        t.gone[0] = lot
    else:
        piece(t, at, line, i, i + 1)
    piece(t, at, line, i + 1, s.length[line])


@compiled
def resize(p: Layout, s: State, t: Trial, rng: Ints) -> bool:
    """Change the units of one SKU in a lot; a lot left empty goes."""
    lot = s.active[below(rng, s.active[-1])]
    family = s.family[lot]
    k = below(rng, p.sizes[family])
    sku = p.sku[family, k]
    grows = (draw(rng) & 1) == 0
    room = room_for(p, s, sku) if grows else s.units[lot, k]
    if room <= 0:
        return False
    by = step(rng, room)
    edit(s, t, lot)
    change_units(p, s, lot, k, by if grows else -by)
    set_duration(p, s, lot)
    around(s, t, lot)
    return True


@compiled
def drop(s: State, t: Trial, rng: Ints) -> bool:
    """Take a lot off its line."""
    lot = s.active[below(rng, s.active[-1])]
    line, i = s.line[lot], s.place[lot]
    t.gone[0] = lot
    piece(t, touch(t, line, i), line, i + 1, s.length[line])
    return True


@compiled
def transfer(p: Layout, s: State, t: Trial, rng: Ints) -> bool:
    """Move units from one lot to another of its family; all of them merges the two."""
    a = s.active[below(rng, s.active[-1])]
    family = s.family[a]
    if s.lot_count[family] < 2:
        return False
    b = s.lots[family, below(rng, s.lot_count[family])]
    if a == b:
        return False
    edit(s, t, a)
    edit(s, t, b)
    merges = (draw(rng) & 1) == 0
    one = below(rng, p.sizes[family])
    for k in range(p.sizes[family]):
        if s.units[a, k] > 0 and (merges or k == one):
            by = s.units[a, k] if merges else step(rng, s.units[a, k])
            change_units(p, s, a, k, -by)
            change_units(p, s, b, k, by)
    set_duration(p, s, a)
    set_duration(p, s, b)
    if s.line[a] != s.line[b]:
        around(s, t, a)
        around(s, t, b)
        return True
    return rejoin(s, t, a, b)


@compiled
def rejoin(s: State, t: Trial, a: int, b: int) -> bool:
    """Time two lots of one line again at their places; `a` goes if it is empty."""
    line = s.line[a]
    lo, hi = min(s.place[a], s.place[b]), max(s.place[a], s.place[b])
    at = touch(t, line, lo)
    if is_empty(s, a):
        t.gone[0] = a
    if s.seq[line, lo] != t.gone[0]:
        piece(t, at, line, lo, lo + 1)
    piece(t, at, line, lo + 1, hi)
    if s.seq[line, hi] != t.gone[0]:
        piece(t, at, line, hi, hi + 1)
    piece(t, at, line, hi + 1, s.length[line])
    return True


@compiled
def new_lot(s: State, t: Trial, family: int) -> int:
    """Give out a lot without units; NOTHING if there is no room for one."""
    if s.unused[-1] == 0 or s.lot_count[family] >= s.lots.shape[1]:
        return NOTHING
    s.unused[-1] -= 1
    lot = s.unused[s.unused[-1]]
    s.family[lot] = family
    s.edge[lot], s.day[lot], s.end[lot] = 0.0, -1, -1
    t.new[0] = lot
    t.edit_stamp[lot] = t.counter[STAMP]
    return int(lot)


@compiled
def fill(p: Layout, s: State, rng: Ints, lot: int) -> bool:
    """Fill a new lot with a random share of what may still be made; False if that is nothing."""
    family = s.family[lot]
    share = min(uniform(rng) * 1.5, 1.0)
    for k in range(p.sizes[family]):
        room = room_for(p, s, p.sku[family, k])
        if room > 0:
            change_units(p, s, lot, k, int(share * room + uniform(rng)))
    set_duration(p, s, lot)
    return not is_empty(s, lot)


@compiled
def add(p: Layout, s: State, t: Trial, rng: Ints, guided: bool) -> bool:
    """Put a new lot of a random family somewhere, or in the place of a lot."""
    family = below(rng, len(p.release))
    replaces = s.active[-1] > 0 and (draw(rng) & 3) == 0
    gone = s.active[below(rng, s.active[-1])] if replaces else NOTHING
    if gone != NOTHING and s.family[gone] == family:
        return False
    lot = new_lot(s, t, family)
    if lot == NOTHING:
        return False
    # The new lot may take the items of the one that goes.
    if gone != NOTHING:
        count_lot(p, s, gone, -1)
    filled = fill(p, s, rng, lot)
    if gone != NOTHING:
        count_lot(p, s, gone, 1)
    if not filled:
        return False
    if gone == NOTHING:
        line, i = somewhere(p, s, rng, family, guided)
    else:
        line, i = s.line[gone], s.place[gone]
        t.gone[0] = gone
    at = touch(t, line, i)
    piece(t, at, NEW, lot, lot + 1)
    piece(t, at, line, i + (gone != NOTHING), s.length[line])
    return True


@compiled
def split(p: Layout, s: State, t: Trial, rng: Ints, guided: bool) -> bool:
    """Make a part of a lot somewhere else."""
    a = s.active[below(rng, s.active[-1])]
    family = s.family[a]
    lot = new_lot(s, t, family)
    if lot == NOTHING:
        return False
    edit(s, t, a)
    share = uniform(rng)
    one = below(rng, p.sizes[family]) if (draw(rng) & 1) == 0 else NOTHING
    for k in range(p.sizes[family]):
        if one not in (NOTHING, k):
            continue
        by = int(share * s.units[a, k] + uniform(rng))
        if by > 0:
            change_units(p, s, a, k, -by)
            change_units(p, s, lot, k, by)
    if is_empty(s, a) or is_empty(s, lot):
        return False
    set_duration(p, s, a)
    set_duration(p, s, lot)
    line, i = somewhere(p, s, rng, family, guided)
    if line == s.line[a]:
        return split_within(s, t, a, lot, i)
    around(s, t, a)
    at = touch(t, line, i)
    piece(t, at, NEW, lot, lot + 1)
    piece(t, at, line, i, s.length[line])
    return True


@compiled
def split_within(s: State, t: Trial, a: int, lot: int, i: int) -> bool:
    """Put a part of a lot elsewhere on its own line, before place `i`."""
    line, own = s.line[a], s.place[a]
    at = touch(t, line, min(i, own))
    if i <= own:
        piece(t, at, NEW, lot, lot + 1)
        piece(t, at, line, i, own)
    piece(t, at, line, own, own + 1)
    if i > own:
        piece(t, at, line, own + 1, i)
        piece(t, at, NEW, lot, lot + 1)
    piece(t, at, line, max(i, own + 1), s.length[line])
    return True
