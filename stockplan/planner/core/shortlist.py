"""Which filaments a line should look at in full as its next run: a guess of each one's worth, on the high side.

To time a lot with hoppers, crews and store takes ten times as long as to guess what it is worth if it waits for none
of them and arrives as soon as it can. So filaments are looked at in the order of their guesses, and no longer than
until one is not worth more than the second best found. A lot that has to wait may arrive a ship day later, and what
it avoids then counts more; the guess allows for one such day.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

import numpy as np

from stockplan.planner.core.floor import Floor
from stockplan.planner.core.supply import SupplyState


def guesses(
    floor: Floor, state: SupplyState, line: str, minute: int, *, filaments: Collection[str], exact: Mapping[int, int]
) -> list[tuple[float, str]]:
    """Return about the most that each filament is worth per minute to a line that decides at a minute, best first.

    Parameters
    ----------
    exact
        Spools of single SKUs (by index) that the planner fixed.
    """
    plant, parameters = floor.plant, floor.plant.facts.parameters
    holds, start_up = floor.lines[line].holds, plant.lines[line].start_up_min
    codes, fixed, ladders = [], [], []
    for code in filaments:
        most = tuple(exact.get(sku, state.most(sku, minute)) for sku in plant.skus_of[code])
        if any(most):
            change = plant.changeover_min(line, holds, code)
            way_back = parameters.way_back_min if plant.is_material_change(holds, code) else 0.0
            day = floor.finishing.first_day(plant.material_of[code], minute + change)
            codes.append(code)
            fixed.append(change + start_up + way_back)
            ladders.append(state.ladder(code, day=day, most=most, minutes=plant.spool_minutes(line, code)))
    if not codes:
        return []
    rungs = [len(ladder) for ladder in ladders]
    minutes = np.repeat(fixed, rungs) + np.concatenate([ladder.total_minutes for ladder in ladders])
    rates = np.concatenate([ladder.total_worth for ladder in ladders]) / minutes
    best = np.maximum.reduceat(rates, np.cumsum([0, *rungs[:-1]])) * np.exp(1 / parameters.choice_days)
    return sorted(zip(best.tolist(), codes, strict=True), key=lambda guess: (-guess[0], guess[1]))
