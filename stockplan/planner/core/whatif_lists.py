"""The lists without and with a change, so that nothing but the change stands between them.

A search of fixed length ends a few per cent beside the best, by chance, and each of two searches by a chance of its
own. So the lots of either list are tried under the facts of the other, where these leave them as they are.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence

from stockplan.planner.core.facts import Instruction, InstructionKind, PlacedRun, PlanFacts
from stockplan.planner.core.floor import Lot, lot_of_sizes
from stockplan.planner.core.made import Made
from stockplan.planner.core.planning import nothing_made
from stockplan.planner.core.plant import plant_of
from stockplan.planner.core.sequence import Sequences, sequences_of


def without_change(facts: PlanFacts, after: Made) -> Made | None:
    """Return the lots of the list with the change on the facts without it.

    None where the change lifts what binds without it: an instruction in force, or the place of a released run.
    """
    changed = after.floor.plant.facts
    if not {*facts.instructions} <= {*changed.instructions} or facts.committed != changed.committed:
        return None
    return _laid_out(facts, sequences_of(after.runs))


def with_change(facts: PlanFacts, before: Sequence[PlacedRun], after: Made) -> Made:
    """Return the list with the change, or the lots of the list before on the same facts if they miss fewer.

    Lots that the change bans are left out of those, what it orders besides is added to the first lot of its filament;
    where it pins what is not among them, or sizes a run, they are not tried.
    """
    changed = after.floor.plant.facts
    new = {*changed.instructions} - {*facts.instructions}
    if not all(_is_met(row, before) for row in new) or facts.committed != changed.committed:
        return after
    banned = {row.filament for row in new if row.kind == InstructionKind.FORBID}
    ordered = _ordered_besides(facts, changed)
    lots: defaultdict[str, list[Lot]] = defaultdict(list)
    for run in sorted(before, key=lambda run: run.start):
        if run.filament not in banned:
            spools = Counter(run.spools) + ordered.pop(run.filament, Counter())
            lots[run.line].append(lot_of_sizes(after.floor.plant, run.filament, spools))
    return min(after, _laid_out(changed, lots), key=lambda made: made.misses)


def _is_met(row: Instruction, runs: Sequence[PlacedRun]) -> bool:
    """Tell whether runs carry out an instruction, or would without those of its filament."""
    if row.kind == InstructionKind.PIN:
        return any(run.filament == row.filament and row.line in {None, run.line} for run in runs)
    return row.kind == InstructionKind.FORBID


def _ordered_besides(facts: PlanFacts, changed: PlanFacts) -> dict[str, Counter[str]]:
    """Return the spools by SKU, by filament, that are due with a change and not without it."""
    due = {sku.code: sku.due[-1] for sku in facts.skus}
    found: defaultdict[str, Counter[str]] = defaultdict(Counter)
    for sku in changed.skus:
        found[sku.filament][sku.code] += sku.due[-1] - due[sku.code]
    return found


def _laid_out(facts: PlanFacts, lots: Sequences) -> Made:
    """Return lots in their order on their lines, as the floor times them."""
    return nothing_made(plant_of(facts.in_order())).laid_out(lots)
