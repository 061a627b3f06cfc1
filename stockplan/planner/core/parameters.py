"""Figures that the planner's core decides by, the same for a whole list."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class PlanParameters:
    """Figures that hold for the whole list.

    Parameters
    ----------
    min_run_min
        Shortest run worth listing, winding minutes.
    late_day_weight
        What a further day late counts, as a share of a miss.
    stop_share
        A lot goes on while its next spool is worth at least this share of the best use of the minute elsewhere.
    way_back_min
        Charged for the way back on a change of material when runs are chosen (not in the times).
    least_lot_share
        A lot shorter than this share of the demand between two runs, or than `min_run_min`, waits, unless a size is
        likely to run out.
    choice_days
        Ship days after its arrival at which what a lot avoids counts 1/e when runs are chosen: a later run can still
        avoid it.
    look_ahead_days
        Ship days beyond the list after which a miss counts 1/e in its totals: later lists can still avoid it.
    least_worth_per_h
        Misses avoided per line hour below which a run waits for a later list.
    search_moves
        Work of a search for each filament, in moves tried; 0: the index alone. A thousand or more pay where lines are
        short.
    moved_run_price
        Misses that planning released runs anew must avoid for each of them that moves; below that they stay.
    changed_run_share
        Share of the misses that must be avoided for each run of a list just made that changes, as long as it is not
        released; below that it stays. A search ends a few per cent beside the best, by chance.
    """

    min_run_min: float = 30.0
    late_day_weight: float = 0.1
    stop_share: float = 0.35
    way_back_min: float = 30.0
    least_lot_share: float = 0.5
    choice_days: float = 2.5
    look_ahead_days: float = 6.0
    least_worth_per_h: float = 0.15
    search_moves: int = 0
    moved_run_price: float = 2.0
    changed_run_share: float = 0.001
