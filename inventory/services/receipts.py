"""Deliveries of resin, concentrate and parts into the store."""

from __future__ import annotations

from decimal import Decimal

from django.contrib.auth.models import AbstractBaseUser

from inventory.errors import ConflictError, InvalidInputError
from inventory.models import Item, Lot, Movement, Place
from inventory.rules.clock import Clock
from inventory.rules.flows import quantity_fault
from inventory.rules.texts import text
from inventory.services.ledger import LineDraft, LotHeldError, place, post_movement
from inventory.services.lookup import item_by_code
from inventory.services.texts import check_length
from inventory.services.transactions import in_one_transaction


class LotInUseError(ConflictError):
    """The lot code belongs to another item or to another lot of the supplier."""

    code = "lot_in_use"


@in_one_transaction
def receive_material(
    *,
    item_code: str,
    quantity: Decimal,
    lot_code: str,
    clock: Clock,
    supplier_lot: str = "",
    posted_by: AbstractBaseUser | None = None,
    document: str = "",
) -> Lot:
    """Receive a quantity from a supplier into the store, as a new lot or as a further delivery of one.

    Raises
    ------
    NotFoundError
        If the item does not exist.
    InvalidInputError
        If the item is a SKU (the plant makes those), or code or quantity are wrong.
    LotInUseError
        If the lot is of another item or of another lot of the supplier.
    LotHeldError
        If the lot is held for quality.
    """
    item = item_by_code(item_code)
    if item.kind == Item.Kind.SKU:
        raise InvalidInputError(
            "{item} is a SKU: it comes out of a run, not from a supplier.", item=item_code, pointer="/item"
        )
    if fault := quantity_fault(quantity, unit=item.unit):
        raise InvalidInputError("{item}: {fault}", item=item_code, fault=fault, pointer="/quantity")
    lot = _lot(item=item, lot_code=lot_code, supplier_lot=supplier_lot, clock=clock)
    line = LineDraft(item.pk, lot.pk, quantity, place(Place.Kind.SUPPLIER), place(Place.Kind.RESIN_STORE))
    post_movement(kind=Movement.Kind.RECEIPT, lines=[line], clock=clock, posted_by=posted_by, document=document)
    return lot


def _lot(*, item: Item, lot_code: str, supplier_lot: str, clock: Clock) -> Lot:
    check_length("lot", lot_code, most=40)
    check_length("supplier_lot", supplier_lot, most=60)
    if not lot_code.strip():
        raise InvalidInputError("A delivery needs a lot code.", pointer="/lot")
    lot, _ = Lot.objects.get_or_create(
        code=lot_code, defaults={"item": item, "supplier_lot": supplier_lot, "created_at": clock.occurred_at}
    )
    if lot.item_id != item.pk or lot.supplier_lot != supplier_lot:
        raise LotInUseError(
            "Lot {lot} is of {known_item}, supplier's lot {known_lot}; received {item}, supplier's lot {supplier_lot}.",
            lot=lot_code,
            known_item=lot.item.code,
            known_lot=lot.supplier_lot or text("not given"),
            item=item.code,
            supplier_lot=supplier_lot or text("not given"),
            pointer="/lot",
        )
    if lot.is_held:
        raise LotHeldError("Lot {lot} is held for quality; release it first.", lot=lot_code, pointer="/lot")
    return lot
