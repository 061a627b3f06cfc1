"""What tests of the books look at, in a word each."""

from __future__ import annotations

from decimal import Decimal

from django.db.models import Sum

from inventory.models import Balance, Item, MovementLine, RunOutput, ShelfStock, Sku


def lying(item: Item | Sku, kind: str) -> Decimal:
    """Quantity of an item at the places of a kind."""
    rows = Balance.objects.filter(item_id=item.pk, place__kind=kind)
    return Decimal(rows.aggregate(sum=Sum("quantity"))["sum"] or 0)


def shelf(sku: Sku) -> tuple[int, int]:
    """On the shelf, allocated."""
    row = ShelfStock.objects.get(sku=sku)
    return row.on_shelf, row.allocated


def awaited(run_code: str, sku: Sku) -> int:
    return RunOutput.objects.get(run__code=run_code, sku=sku).awaited


def lots_of(movement_id: int) -> list[tuple[str, int]]:
    """Lots and quantities of the lines of a movement."""
    lines = MovementLine.objects.filter(movement_id=movement_id).order_by("id")
    return [(line.lot.code, int(line.quantity)) for line in lines.select_related("lot")]
