"""What a movement does to promised supply: spools on the shelf, and spools of runs that are awaited there.

ShelfStock.on_shelf and RunOutput.awaited follow the ledger here and nowhere else, so no service can forget them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field

from inventory.models import Lot, Movement, Place, RunOutput, ShelfStock
from inventory.rules.clock import Clock
from inventory.rules.flows import PIPELINE
from inventory.services.allocations import LockedSupply
from inventory.services.promises import (
    free_shelf_allocations,
    promise_waiting_lines,
    repromise_run_output,
    shelve_allocations,
)

OutputKey = tuple[int, int]
"""Run id, SKU id."""


@dataclass
class SupplyEffect:
    """Changes of supply by one movement, in spools."""

    on_shelf: dict[int, int] = field(default_factory=lambda: defaultdict(int))
    shelved: dict[OutputKey, int] = field(default_factory=lambda: defaultdict(int))
    awaited: dict[OutputKey, int] = field(default_factory=lambda: defaultdict(int))

    def add(self, *, kind: str, lot: Lot, spools: int, source: Place, target: Place) -> None:
        """Count one line of a movement."""
        on_shelf = (target.kind == Place.Kind.SHELF) - (source.kind == Place.Kind.SHELF)
        if on_shelf:
            self.on_shelf[lot.item_id] += on_shelf * spools
        # What a run winds is awaited since its release; runs.finish_run sets the number itself.
        if lot.run_id is None or kind == Movement.Kind.RUN_OUTPUT:
            return
        key = (lot.run_id, lot.item_id)
        if source.kind in PIPELINE and target.kind == Place.Kind.SHELF:
            self.shelved[key] += spools
        else:
            self.awaited[key] += ((target.kind in PIPELINE) - (source.kind in PIPELINE)) * spools


def apply_supply(effect: SupplyEffect, *, supply: LockedSupply, clock: Clock, cause: str) -> None:
    """Let the shelf and the awaited outputs follow a movement, and promise again what that changes.

    The SKUs must be locked (`lock_supply`). Queries do not grow with the lines but with the supplies whose promises
    move.
    """
    _change_shelf(effect, supply=supply, clock=clock, cause=cause)
    lost = {key: -delta for key, delta in effect.awaited.items() if delta < 0}
    gained = {key: delta for key, delta in effect.awaited.items() if delta > 0}
    _shelve(effect.shelved, clock=clock)
    for output in outputs_of(lost).values():
        output.awaited -= lost[(output.run_id, output.sku_id)]
        repromise_run_output(output, clock=clock, cause=cause)
    _await_more(gained)
    more = {sku_id for sku_id, delta in effect.on_shelf.items() if delta > 0} | {sku_id for _, sku_id in gained}
    if more:
        promise_waiting_lines(sku_ids=sorted(more), clock=clock)


def _change_shelf(effect: SupplyEffect, *, supply: LockedSupply, clock: Clock, cause: str) -> None:
    rows = []
    for sku_id, delta in sorted(effect.on_shelf.items()):
        row = supply.shelf[sku_id]
        row.on_shelf += delta
        row.changed_at = max(row.changed_at, clock.known_at)
        rows.append(row)
        if row.allocated > row.on_shelf:
            free_shelf_allocations(sku_id=sku_id, must_free=row.allocated - row.on_shelf, clock=clock, cause=cause)
    if rows:
        ShelfStock.objects.bulk_update(rows, ["on_shelf", "changed_at"])


def _shelve(shelved: dict[OutputKey, int], *, clock: Clock) -> None:
    outputs = list(outputs_of(shelved).values())
    for output in outputs:
        spools = shelved[(output.run_id, output.sku_id)]
        if output.allocated:
            shelve_allocations(output, quantity=spools, clock=clock)
        output.awaited -= spools
    if outputs:
        RunOutput.objects.bulk_update(outputs, ["awaited"])


def _await_more(gained: dict[OutputKey, int]) -> None:
    outputs = list(outputs_of(gained).values())
    for output in outputs:
        output.awaited += gained[(output.run_id, output.sku_id)]
    if outputs:
        RunOutput.objects.bulk_update(outputs, ["awaited"])


def outputs_of(keys: Iterable[OutputKey]) -> dict[OutputKey, RunOutput]:
    """Outputs by run and SKU, locked by id. Read late: promising one output moves the counts of others."""
    wanted = set(keys)
    if not wanted:
        return {}
    rows = RunOutput.objects.filter(run_id__in={key[0] for key in wanted}, sku_id__in={key[1] for key in wanted})
    found = {(row.run_id, row.sku_id): row for row in rows.order_by("id").select_for_update()}
    return {key: row for key, row in found.items() if key in wanted}
