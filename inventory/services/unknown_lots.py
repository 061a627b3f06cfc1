"""The lot of stock whose origin the books do not know: found in a count, or used although they had too little."""

from __future__ import annotations

from collections.abc import Iterable

from inventory.models import Item, Lot
from inventory.rules.clock import Clock
from inventory.rules.flows import unknown_lot_code


def unknown_lots(items: Iterable[Item], *, clock: Clock) -> dict[int, Lot]:
    """Return the lot of unknown origin of each item, by item id, written at its first use.

    A trace that ends here says that the origin is not known, which is the truth. Three queries at most.
    """
    codes = {unknown_lot_code(item.code): item for item in items}
    found = {lot.code: lot for lot in Lot.objects.filter(code__in=codes)}
    if missing := [code for code in sorted(codes) if code not in found]:
        new = (Lot(code=code, item=codes[code], created_at=clock.occurred_at) for code in missing)
        Lot.objects.bulk_create(new, ignore_conflicts=True)
        found = {lot.code: lot for lot in Lot.objects.filter(code__in=codes)}
    return {lot.item_id: lot for lot in found.values()}
