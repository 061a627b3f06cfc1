"""What the compiled search writes on: a plan with its times and costs, and one move on trial."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from stockplan.planner.core.search.layout import LOTS_OF_FAMILY, Layout, Plan
from stockplan.planner.core.search.problem import NOTHING, Floats, Ints

# A move touches at most two lines, in at most so many pieces each, and changes the units of at most so many lots.
PIECES = 6
LINES_OF_MOVE = 2
EDITS = 4
# Source of a piece that is one lot not yet on any line.
NEW = -2
# Moves tried to see what bad ones cost.
SAMPLE = 400
# Exchanges that a descent may take before it is judged.
LOG = 64
# Kinds of exchange of which a descent tries the best: on one line, of equal length on two, of other lengths on two.
KINDS = 3
# Places in `Walk.counter`.
HEAD, QUEUED, LOGGED, TRIED = 0, 1, 2, 3
# Places in `Trial.counter`.
CHANGED, DIRTY, TOUCHED, EDITED, STAMP = 0, 1, 2, 3, 4


class State(NamedTuple):
    """A plan in full: N lots, L lines, F families."""

    family: Ints
    units: Ints
    seq: Ints
    length: Ints
    stands: Ints  # (L, P + 2) families in order, what the line holds before them and the end behind
    active: Ints
    slot: Ints  # (N,) place of a lot in `active`
    line: Ints  # (N,)
    place: Ints  # (N,)
    duration: Ints  # (N, L) start-up and winding, -1 where the line cannot make it
    end: Ints  # (N,) minute
    day: Ints  # (N,) of arrival
    edge: Floats  # (N,) cost of the setup into the lot
    closing: Floats  # (L,) cost of what the line holds at the end
    slope: Floats  # (N,) what a lot costs more for each minute by which it is later
    late: Floats  # (L, P + 1) slopes of the lots before each place
    lots: Ints  # (F, C) lots of a family
    lot_count: Ints  # (F,)
    made: Ints  # (S,) units over all lots
    left: Floats  # (I,) of each item
    family_cost: Floats  # (F,)
    short: Floats  # (1,) cost of what is short of items
    unused: Ints  # (N + 1,) lots that can be given out; the last entry counts them


class Trial(NamedTuple):
    """One move before it is taken: the new order of at most two lines in pieces, and what it changes."""

    counter: Ints
    line: Ints
    start: Ints  # first place that changes
    pieces: Ints  # number of them
    shift: Ints  # minutes by which the rest of the line shifts, guessed
    piece: Ints  # (2, PIECES, 3) source line or NEW, from, to
    closing: Floats
    lot: Ints  # changed lots with their new times
    edge: Floats
    end: Ints
    day: Ints
    lot_stamp: Ints
    lot_day: Ints
    family_stamp: Ints
    dirty: Ints  # families whose cost may change
    dirty_cost: Floats
    edited: Ints  # lots whose units were changed for the trial
    edit_stamp: Ints
    old_units: Ints
    old_duration: Ints
    gone: Ints  # one lot that leaves, or NOTHING
    new: Ints  # one lot that comes, or NOTHING
    swap: Ints  # (6,) the exchange of segments: line, place, length, line, place, length
    order: Ints  # (2, P) scratch
    rises: Floats  # scratch
    by_day: Ints  # (2, C + 1) scratch: days and lots of one family in order
    whole: Ints  # (L, P) scratch: the new order of every line
    now: Ints  # (4, L) scratch: of every line its lots, the next of them, when it decides, and what it holds then
    busy: Ints  # (N, 2) scratch: setups, from and to
    hopper: Ints  # (H, 3) scratch: what each hopper holds then, since when that dries, when it is free
    hopper_left: Floats  # (H,) scratch: kg in it
    charge: Ints  # (5,) scratch: the best hopper for a lot
    places: Floats  # (N, O) scratch: places left in each oven load
    packing: Ints  # (M,) scratch: spools that can still be packed on each morning
    purged: Floats  # (I,) scratch: what setups take of each item
    short: Floats  # (1,)


class Walk(NamedTuple):
    """A descent: lots to look at, the exchanges taken, and the best exchange of each kind for one lot."""

    counter: Ints  # (4,) see HEAD and the others above
    queue: Ints  # (N,) ring of lots to look at
    queued: NDArray[np.bool_]  # (N,)
    log: Ints  # (LOG, 6) exchanges taken, to undo them
    best: Ints  # (KINDS, 6)
    gain: Floats  # (KINDS,)


def state_of(layout: Layout, plan: Plan) -> State:
    """Return an empty state around a plan's arrays; the compiled `refresh` fills in times and costs."""
    lots, lines, families = len(plan.family), len(plan.length), len(layout.release)
    most = int(np.bincount(plan.family[plan.family >= 0], minlength=families).max(initial=0))
    return State(
        family=plan.family,
        units=plan.units,
        seq=plan.seq,
        length=plan.length,
        stands=np.zeros((lines, plan.seq.shape[1] + 2), dtype=np.int64),
        active=plan.active,
        slot=np.full(lots, NOTHING),
        line=np.full(lots, NOTHING),
        place=np.full(lots, NOTHING),
        duration=np.zeros((lots, lines), dtype=np.int64),
        end=np.zeros(lots, dtype=np.int64),
        day=np.zeros(lots, dtype=np.int64),
        edge=np.zeros(lots),
        closing=np.zeros(lines),
        slope=np.zeros(lots),
        late=np.zeros((lines, plan.seq.shape[1] + 1)),
        lots=np.full((families, max(LOTS_OF_FAMILY, most)), NOTHING),
        lot_count=np.zeros(families, dtype=np.int64),
        made=np.zeros(len(layout.most), dtype=np.int64),
        left=layout.stock.copy(),
        family_cost=np.zeros(families),
        short=np.zeros(1),
        unused=np.zeros(lots + 1, dtype=np.int64),
    )


def trial_of(layout: Layout, state: State) -> Trial:
    """Return an empty trial of the right size."""
    lots, families = len(state.family), len(layout.release)
    both = 2 * lots + 2
    return Trial(
        counter=np.zeros(5, dtype=np.int64),
        line=np.zeros(LINES_OF_MOVE, dtype=np.int64),
        start=np.zeros(LINES_OF_MOVE, dtype=np.int64),
        pieces=np.zeros(LINES_OF_MOVE, dtype=np.int64),
        shift=np.zeros(LINES_OF_MOVE, dtype=np.int64),
        piece=np.zeros((LINES_OF_MOVE, PIECES, 3), dtype=np.int64),
        closing=np.zeros(LINES_OF_MOVE),
        lot=np.zeros(both, dtype=np.int64),
        edge=np.zeros(both),
        end=np.zeros(both, dtype=np.int64),
        day=np.zeros(both, dtype=np.int64),
        lot_stamp=np.zeros(lots, dtype=np.int64),
        lot_day=np.zeros(lots, dtype=np.int64),
        family_stamp=np.zeros(families, dtype=np.int64),
        dirty=np.zeros(families, dtype=np.int64),
        dirty_cost=np.zeros(families),
        edited=np.zeros(EDITS, dtype=np.int64),
        edit_stamp=np.zeros(lots, dtype=np.int64),
        old_units=np.zeros((EDITS, state.units.shape[1]), dtype=np.int64),
        old_duration=np.zeros((EDITS, state.duration.shape[1]), dtype=np.int64),
        gone=np.zeros(1, dtype=np.int64),
        new=np.zeros(1, dtype=np.int64),
        swap=np.zeros(6, dtype=np.int64),
        order=np.zeros((LINES_OF_MOVE, state.seq.shape[1]), dtype=np.int64),
        rises=np.zeros(SAMPLE),
        by_day=np.zeros((2, state.lots.shape[1] + 1), dtype=np.int64),
        whole=np.zeros(state.seq.shape, dtype=np.int64),
        now=np.zeros((4, len(state.length)), dtype=np.int64),
        busy=np.zeros((lots, 2), dtype=np.int64),
        hopper=layout.shared.hopper.copy(),
        hopper_left=layout.shared.hopper_left.copy(),
        charge=np.zeros(5, dtype=np.int64),
        places=layout.shared.places.copy(),
        packing=layout.shared.packing.copy(),
        purged=np.zeros(len(layout.stock)),
        short=np.zeros(1),
    )


def walk_of(state: State) -> Walk:
    """Return an empty walk of the right size."""
    lots = len(state.family)
    return Walk(
        counter=np.zeros(4, dtype=np.int64),
        queue=np.zeros(lots, dtype=np.int64),
        queued=np.zeros(lots, dtype=np.bool_),
        log=np.zeros((LOG, 6), dtype=np.int64),
        best=np.zeros((KINDS, 6), dtype=np.int64),
        gain=np.zeros(KINDS),
    )
