"""What a trace may begin with, by the words that stand on a spool, a bag, a run card or a customer's letter."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Q

from inventory.models import Lot, Order, Run


@dataclass(frozen=True)
class Traceable:
    """One beginning of a trace: kind and key of the record, and what tells it from others of the same words."""

    kind: str
    key: str
    words: str


def found_to_trace(text: str) -> tuple[Traceable, ...]:
    """Return the lots, runs and orders that are called exactly this: our code, the supplier's, the reference.

    Three queries.
    """
    lots = Lot.objects.filter(Q(code=text) | Q(supplier_lot=text)).select_related("item").order_by("code")
    runs = Run.objects.filter(code=text).select_related("filament")
    orders = Order.objects.filter(reference=text).select_related("channel").order_by("id")
    return (
        *(Traceable("lot", lot.code, f"lot {lot.code} of {lot.item.code}") for lot in lots),
        *(Traceable("run", run.code, f"run {run.code} of {run.filament.code}") for run in runs),
        *(Traceable("order", str(one.pk), f"order {one.reference} of {one.channel.code}") for one in orders),
    )
