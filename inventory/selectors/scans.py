"""What the codes of a label stand for in the books."""

from __future__ import annotations

from inventory.models import Lot, Order, Sku
from inventory.rules.gs1 import gtin_of_scan, lot_of_scan
from inventory.rules.gtin import GTIN_LENGTHS


def item_code_of_scan(text: str) -> str:
    """Return the code of the SKU whose GTIN was scanned; any other text as it is. At most one query."""
    gtin = gtin_of_scan(text)
    if gtin is None:
        return text
    written = [gtin.zfill(length) for length in GTIN_LENGTHS]
    return Sku.objects.filter(gtin__in=written).values_list("item__code", flat=True).first() or text


def lot_code_of_scan(text: str, *, item_code: str) -> str:
    """Return the code of the lot that a label means, of an item ("": of the scanned one, or of any).

    The label of a spool names the run that wound it; the books have a lot for each SKU of a run. Any other text, and a
    run of several lots, is given back as it is. At most two queries.
    """
    run_code = lot_of_scan(text) or text
    lots = Lot.objects.filter(run__code=run_code)
    if wanted := item_code or (item_code_of_scan(text) if run_code != text else ""):
        lots = lots.filter(item__code=wanted)
    codes = list(lots.values_list("code", flat=True)[:2])
    return codes[0] if len(codes) == 1 else text


def orders_of_scan(text: str) -> list[Order]:
    """Return the orders whose reference stands on a carton label or a packing slip, open ones first.

    Each comes with its channel; channels may give the same reference to orders of their own. One query.
    """
    found = Order.ordered.filter(reference=text).select_related("channel").order_by("received_at", "id")
    return sorted(found, key=lambda order: order.state != Order.State.OPEN)
