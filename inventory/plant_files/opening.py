"""Opening stock: lots, one movement of kind opening, and a load for every oven that is not empty."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from decimal import Decimal

from inventory.models import Item, Lot, Movement, Oven, OvenLoad, Place, Sku
from inventory.plant_files.faults import FaultList
from inventory.plant_files.records import Known
from inventory.plant_files.schema_books import OPENING_PLACES
from inventory.plant_files.table import Row
from inventory.rules.clock import Clock
from inventory.rules.flows import quantity_fault
from inventory.rules.texts import Text, text
from inventory.services.ledger import LineDraft, ensure_places, post_movement

DOCUMENT = "opening_stock.csv"
LOT_LENGTH = 40


def open_stock(rows: Sequence[Row], *, as_of: datetime, known: Known, faults: FaultList) -> None:
    """Post the opening stock as of an instant. Lots get their ids, and so their turn, in the order of the rows.

    Spools in an oven begin their drying anew at `as_of`: the files do not say how long they were in it.

    Raises
    ------
    PlantFileError
        With every fault of the file; then nothing of it is posted.
    """
    items = _items(known)
    lots = _lots(rows, items=items, as_of=as_of, faults=faults)
    ovens: Mapping[str, Oven] = known.get("ovens.csv", {})
    for row in rows:
        _check(row, item=items.get(row.values["item"]), ovens=ovens, faults=faults)
    faults.refuse()
    ensure_places()
    Lot.objects.bulk_create(lots.values())
    loads = _oven_loads(rows, ovens=ovens, items=items, as_of=as_of)
    places = {row.oven.code if row.oven else row.kind: row for row in Place.objects.select_related("oven")}
    by_document: dict[str, list[LineDraft]] = {}
    for row in rows:
        load = loads.get(row.values["place"])
        by_document.setdefault(load.code if load else DOCUMENT, []).append(_draft(row, lots=lots, places=places))
    for document, lines in by_document.items():
        post_movement(
            kind=Movement.Kind.OPENING, lines=lines, clock=Clock.at(as_of), reason="opening stock", document=document
        )


def _items(known: Known) -> dict[str, Item]:
    return {**known["items.csv"], **{code: sku.item for code, sku in known["skus.csv"].items()}}


def _lots(rows: Sequence[Row], *, items: Mapping[str, Item], as_of: datetime, faults: FaultList) -> dict[str, Lot]:
    """One lot per code, though it may lie at several places."""
    lots: dict[str, Lot] = {}
    for row in rows:
        values = row.values
        item = items.get(values["item"])
        if item is None:
            continue
        new = Lot(code=values["lot"], item=item, supplier_lot=values["supplier_lot"] or "", created_at=as_of)
        lot = lots.setdefault(new.code, new)
        if lot.item is not item or lot.supplier_lot != new.supplier_lot:
            faults.add(
                row.line, "lot", text("lot {lot} has another item or supplier_lot in an earlier line.", lot=lot.code)
            )
        lot.is_held = lot.is_held or values["place"] == Place.Kind.HOLD
    return lots


def _check(row: Row, *, item: Item | None, ovens: Mapping[str, Oven], faults: FaultList) -> None:
    values = row.values
    if item is None:
        faults.add(row.line, "item", text("{item!r} is neither in items.csv nor in skus.csv.", item=values["item"]))
        return
    if fault := quantity_fault(values["quantity"], unit=item.unit):
        faults.add(row.line, "quantity", fault)
    if fault := _place_fault(values["place"], item=item, ovens=ovens):
        faults.add(row.line, "place", fault)
    for name, longest in (("lot", LOT_LENGTH), ("supplier_lot", 60)):
        if len(values[name] or "") > longest:
            faults.add(row.line, name, text("has {n} characters, at most {most}.", n=len(values[name]), most=longest))


def _place_fault(name: str, *, item: Item, ovens: Mapping[str, Oven]) -> Text | None:
    if name not in OPENING_PLACES and name not in ovens:
        return text(
            "{name!r} is neither one of {places} nor an oven of ovens.csv.", name=name, places=", ".join(OPENING_PLACES)
        )
    is_sku = item.kind == Item.Kind.SKU
    if is_sku and name == Place.Kind.RESIN_STORE:
        return text("spools do not lie in the resin store.")
    if not is_sku and name not in (Place.Kind.RESIN_STORE, Place.Kind.HOLD):
        return text(
            "{item} is {kind}: it lies in resin_store or on hold.", item=item.code, kind=item.get_kind_display()
        )
    return None


def _draft(row: Row, *, lots: Mapping[str, Lot], places: Mapping[str, Place]) -> LineDraft:
    lot = lots[row.values["lot"]]
    return LineDraft(
        item_id=lot.item_id,
        lot_id=lot.pk,
        quantity=row.values["quantity"],
        from_place=places[Place.Kind.OPENING],
        to_place=places[row.values["place"]],
    )


def _oven_loads(
    rows: Sequence[Row], *, ovens: Mapping[str, Oven], items: Mapping[str, Item], as_of: datetime
) -> dict[str, OvenLoad]:
    hours: dict[str, Decimal] = {}
    skus = Sku.objects.select_related("filament__material").in_bulk()
    for row in rows:
        name = row.values["place"]
        if name in ovens:
            needed = skus[items[row.values["item"]].pk].filament.material.spool_dry_hours
            hours[name] = max(hours.get(name, Decimal(0)), needed)
    return {name: _load(ovens[name], hours=needed, as_of=as_of) for name, needed in hours.items()}


def _load(oven: Oven, *, hours: Decimal, as_of: datetime) -> OvenLoad:
    return OvenLoad.objects.create(
        code=f"OPENING-{oven.code}"[:32],
        oven=oven,
        loaded_at=as_of,
        known_at=as_of,
        temperature_c=oven.temperature_c,
        hours=hours,
        ready_at=as_of + timedelta(hours=float(hours)),
    )
