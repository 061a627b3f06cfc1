"""What the codes of a label stand for in the books."""

from __future__ import annotations

from typing import TypeVar

from django.db.models import QuerySet

from inventory.models import Item, Lot, Order, Sku
from inventory.rules.gs1 import gtin_of_scan, lot_of_scan
from inventory.rules.gtin import GTIN_LENGTHS

Coded = TypeVar("Coded", Item, Lot)


def item_code_of_scan(text: str) -> str:
    """Return the code of the SKU whose GTIN was scanned, or of the item whose code was typed in small letters.

    Any other text is given back as it is. At most one query.
    """
    gtin = gtin_of_scan(text)
    if gtin is None:
        return _only_code(Item.objects.filter(code__iexact=text)) or text
    written = [gtin.zfill(length) for length in GTIN_LENGTHS]
    return Sku.objects.filter(gtin__in=written).values_list("item__code", flat=True).first() or text


def lot_code_of_scan(text: str, *, item_code: str) -> str:
    """Return the code of the lot that a label means, of an item ("": of the scanned one, or of any).

    The label of a spool names the run that wound it; the books have a lot for each SKU of a run. The code of a lot may
    be typed in small letters. Any other text, and a run of several lots, is given back as it is. At most three queries.
    """
    run_code = lot_of_scan(text) or text
    lots = Lot.objects.filter(run__code__iexact=run_code)
    if wanted := item_code or (item_code_of_scan(text) if run_code != text else ""):
        lots = lots.filter(item__code=wanted)
    return _only_code(lots) or _only_code(Lot.objects.filter(code__iexact=text)) or text


def orders_of_scan(text: str) -> list[Order]:
    """Return the orders whose reference stands on a carton label or a packing slip, open ones first.

    Each comes with its channel; channels may give the same reference to orders of their own. One query.
    """
    found = Order.ordered.filter(reference=text).select_related("channel").order_by("received_at", "id")
    return sorted(found, key=lambda order: order.state != Order.State.OPEN)


def _only_code(found: QuerySet[Coded]) -> str | None:
    """Return the code where there is exactly one."""
    codes = list(found.values_list("code", flat=True)[:2])
    return codes[0] if len(codes) == 1 else None
