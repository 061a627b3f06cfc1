"""Balances, shelf counts and awaited spools computed again from the ledger."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction

from inventory.models import Balance, Lot, Place, RunOutput, ShelfStock
from inventory.rules.clock import Clock
from inventory.selectors.awaited import awaited_spools
from inventory.selectors.ledger import LedgerRead, read_ledger
from inventory.services.promises import free_shelf_allocations, repromise_run_output


@dataclass(frozen=True)
class Rebuilt:
    """Rows that were wrong: balances, shelf counts of SKUs, and awaited spools of run outputs."""

    balances: int
    shelves: int
    outputs: int


@transaction.atomic
def rebuild_balances(*, clock: Clock) -> Rebuilt:
    """Write every balance, on-shelf count and awaited count anew from the ledger, bit for bit as posting would have.

    A shelf or a run that turns out to have less than is allocated of it frees allocations by the usual rule. Locks
    all of it, in the order of ledger.py; the ledger is read under the locks.
    """
    shelves = {row.sku_id: row for row in ShelfStock.objects.order_by("sku_id").select_for_update()}
    outputs = list(RunOutput.objects.order_by("id").select_for_update())
    balances = {
        (row.place_id, row.lot_id): row for row in Balance.objects.order_by("place_id", "lot_id").select_for_update()
    }
    ledger = read_ledger(clock="occurred_at")
    written = _write_balances(ledger, balances)
    return Rebuilt(
        balances=written,
        shelves=_write_shelves(ledger, shelves, clock=clock),
        outputs=_write_outputs(outputs, clock=clock),
    )


def _write_balances(ledger: LedgerRead, rows: dict[tuple[int, int], Balance]) -> int:
    stray = [row.pk for key, row in rows.items() if key not in ledger.sums]
    Balance.objects.filter(pk__in=stray).delete()
    places, lots = Place.objects.in_bulk(), Lot.objects.in_bulk()
    wrong, missing = [], []
    for key, quantity in sorted(ledger.sums.items()):
        place, lot = places[key[0]], lots[key[1]]
        right = Balance(place=place, lot=lot, item_id=lot.item_id, is_physical=place.is_physical, quantity=quantity)
        row = rows.get(key)
        if row is None:
            missing.append(right)
        elif (row.item_id, row.is_physical, row.quantity) != (lot.item_id, place.is_physical, quantity):
            right.pk = row.pk
            wrong.append(right)
    Balance.objects.bulk_update(wrong, ["item", "is_physical", "quantity"], batch_size=200)
    Balance.objects.bulk_create(missing, batch_size=200)
    return len(stray) + len(wrong) + len(missing)


def _write_shelves(ledger: LedgerRead, rows: dict[int, ShelfStock], *, clock: Clock) -> int:
    on_shelf = dict.fromkeys(rows, Decimal(0))
    shelf = Place.objects.filter(kind=Place.Kind.SHELF).first()
    items = dict(Lot.objects.values_list("pk", "item_id"))
    for (place_id, lot_id), quantity in ledger.sums.items():
        if shelf is not None and place_id == shelf.pk:
            on_shelf[items[lot_id]] = on_shelf.get(items[lot_id], Decimal(0)) + quantity
    wrong = 0
    for sku_id, spools in sorted(on_shelf.items()):
        row = rows.get(sku_id) or ShelfStock(sku_id=sku_id, changed_at=clock.known_at)
        if row.on_shelf == spools and sku_id in rows:
            continue
        wrong += 1
        if row.allocated > spools:
            must_free = row.allocated - int(spools)
            free_shelf_allocations(sku_id=sku_id, must_free=must_free, clock=clock, cause="balances rebuilt")
        ShelfStock.objects.update_or_create(
            sku_id=sku_id, defaults={"on_shelf": int(spools), "changed_at": clock.known_at}
        )
    return wrong


def _write_outputs(rows: list[RunOutput], *, clock: Clock) -> int:
    """The balances are right by now: what must be awaited is read of them."""
    right = awaited_spools()
    wrong = [row for row in rows if row.awaited != right[row.pk]]
    for row in wrong:
        row.awaited = right[row.pk]
        repromise_run_output(row, clock=clock, cause="balances rebuilt")
    return len(wrong)
