"""Runs that are on the list whatever they are worth: pinned or sized by the planner, and what is late."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping

from stockplan.planner.core.facts import Instruction, InstructionKind
from stockplan.planner.core.floor import Floor, Lot, TimedRun, lot_of_sizes
from stockplan.planner.core.plant import Plant
from stockplan.planner.core.selection import Decision, Offer, Rules, hopper_share, lot_of, offer_of, place_lot
from stockplan.planner.core.sequence import affordable, lay_out
from stockplan.planner.core.supply import SupplyState


def place_pinned(floor: Floor, state: SupplyState, *, rules: Rules) -> list[TimedRun]:
    """Place the runs that are pinned to a place, then each other pinned filament on its line or where it is worth most.

    Returns the runs; a filament that cannot run (no line, no working time, no material) has none.
    """
    placed = placed_lots(floor.plant.facts.instructions, floor.plant)
    left = floor.copy()
    runs = lay_out(floor, state, {line: affordable(left, line, lots) for line, lots in placed.items()})
    for filament, line in pinned_filaments(floor).items():
        lines = (line,) if line is not None else floor.plant.lines_for(filament)
        run = _best_placed(floor, state, filament, lines, rules=rules)
        if run is not None:
            runs.append(run)
    return runs


def placed_lots(instructions: Iterable[Instruction], plant: Plant) -> dict[str, list[Lot]]:
    """Return the lots that are pinned to places, by line, in the order of their places."""
    found: defaultdict[str, list[Lot]] = defaultdict(list)
    for row in sorted((row for row in instructions if row.place), key=lambda row: row.place or 0):
        if row.line is not None and row.line in plant.lines_for(row.filament):
            found[row.line].append(lot_of_sizes(plant, row.filament, dict(row.sizes), is_pinned=True))
    return dict(found)


def place_late(floor: Floor, state: SupplyState, *, rules: Rules) -> list[TimedRun]:
    """Place filaments with late lines for which the days of the list had no room, as the next runs after its last day.

    A late order never drops off the list.
    """
    runs = []
    for filament in sorted(code for code in rules.allowed if state.is_late(code)):
        run = _best_placed(floor, state, filament, floor.plant.lines_for(filament), rules=rules, is_late=True)
        if run is not None:
            runs.append(run)
    return runs


def pinned_filaments(floor: Floor) -> Mapping[str, str | None]:
    """Return the line asked for (None: any) of each filament that is pinned or has an exact number of spools.

    A filament that is pinned to a place is made there, and not once more.
    """
    rows = floor.plant.facts.instructions
    placed = {row.filament for row in rows if row.place}
    found: dict[str, str | None] = {}
    for row in rows:
        if row.filament in placed:
            continue
        if row.kind == InstructionKind.PIN or (row.kind == InstructionKind.RESIZE and row.spools):
            found[row.filament] = row.line or found.get(row.filament)
    return found


def _best_placed(
    floor: Floor, state: SupplyState, filament: str, lines: tuple[str, ...], *, rules: Rules, is_late: bool = False
) -> TimedRun | None:
    options: list[tuple[float, int, Decision, Lot]] = []
    for line in lines:
        minute = floor.next_decision(line)
        if minute is not None and filament in floor.plant.lines[line].rates:
            decision = Decision(line, filament, minute)
            offer = offer_of(floor, state, decision, rules=rules)
            lot = _late_lot(floor, offer) if is_late else _pinned_lot(floor, decision, offer, rules)
            if lot is not None and any(lot.spools):
                options.append((-(offer.worth_per_min if offer else 0.0), minute, decision, lot))
    for _, _, decision, lot in sorted(options, key=lambda option: (*option[:2], option[2].line)):
        run = place_lot(floor, state, lot, decision, may_start_later=is_late)
        if run is not None:
            return run
    return None


def _late_lot(floor: Floor, offer: Offer | None) -> Lot | None:
    return None if offer is None else lot_of(floor.plant, offer, price_per_min=0.0)


def _pinned_lot(floor: Floor, decision: Decision, offer: Offer | None, rules: Rules) -> Lot:
    """Return the whole lot up to the levels; where none is wanted, the shortest run of the filament's smallest SKU."""
    plant, filament = floor.plant, decision.filament
    skus = plant.skus_of[filament]
    spools = list(lot_of(plant, offer, price_per_min=0.0).spools) if offer else [0] * len(skus)
    for at, sku in enumerate(skus):
        spools[at] = rules.exact.get(sku, spools[at])
    if not any(spools) and not any(sku in rules.exact for sku in skus):
        minutes = plant.spool_minutes(decision.line, filament)
        at = min(range(len(skus)), key=lambda i: minutes[i])
        spools[at] = max(round(plant.facts.parameters.min_run_min / minutes[at]), 1)
    cut = hopper_share(floor, decision, tuple(spools))
    afford = floor.store.affordable(plant, decision.line, floor.lines[decision.line].holds, filament, cut)
    return Lot(filament, afford, is_pinned=True)
