"""Records by the codes that people and integrations use; a wrong code is named with its place in the request."""

from __future__ import annotations

from collections.abc import Iterable

from inventory.errors import NotFoundError
from inventory.models import Item, Lot, Sku


def item_by_code(code: str, *, pointer: str = "/item") -> Item:
    """Return the item of a code. One query.

    Raises
    ------
    NotFoundError
        If there is none.
    """
    item = Item.objects.filter(code=code).first()
    if item is None:
        raise NotFoundError("Item {code!r} does not exist.", code=code, pointer=pointer)
    return item


def sku_item_by_code(code: str, *, pointer: str = "/sku") -> Item:
    """Return the item of a SKU. One query.

    Raises
    ------
    NotFoundError
        If there is no such SKU; the message says so if the code is of a material or part.
    """
    item = Item.objects.filter(code=code, kind=Item.Kind.SKU).first()
    if item is None:
        raise NotFoundError("SKU {code!r} does not exist.", code=code, pointer=pointer)
    return item


def skus_by_code(codes: Iterable[str], *, pointer: str) -> dict[str, Sku]:
    """Return SKUs by code with size, filament and material. One query.

    Raises
    ------
    NotFoundError
        If one does not exist; all that are missing are named.
    """
    wanted = set(codes)
    rows = Sku.objects.select_related(
        "item",
        "spool_size__spool_part",
        "spool_size__box_item",
        "spool_size__desiccant_item",
        "filament__material__resin_item",
        "filament__colour",
    )
    found = {sku.item.code: sku for sku in rows.filter(item__code__in=wanted)}
    if missing := sorted(wanted - set(found)):
        raise NotFoundError("SKU {missing} does not exist.", missing=", ".join(map(repr, missing)), pointer=pointer)
    return found


def lot_by_code(code: str, *, pointer: str = "/lot", item: Item | None = None) -> Lot:
    """Return the lot of a code with its item; with `item`, only if it is a lot of that item. One query.

    Raises
    ------
    NotFoundError
        If there is none.
    """
    lots = Lot.objects.filter(code=code) if item is None else Lot.objects.filter(code=code, item=item)
    lot = lots.select_related("item").first()
    if lot is None and item is not None:
        raise NotFoundError("Lot {code!r} of {item} does not exist.", code=code, item=item.code, pointer=pointer)
    if lot is None:
        raise NotFoundError("Lot {code!r} does not exist.", code=code, pointer=pointer)
    return lot
