"""Build an empty database from the files of a plant: all of it or nothing."""

from __future__ import annotations

import zoneinfo
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import holidays
from django.apps import apps
from django.db import transaction

from inventory.errors import ConflictError, InvalidInputError
from inventory.models import (
    Cart,
    Channel,
    Closure,
    Dryer,
    Item,
    Line,
    Lot,
    Material,
    Order,
    Oven,
    PlantParameters,
    Sku,
    WorkDay,
)
from inventory.plant_files.cells import CellError, write_cell
from inventory.plant_files.columns import FileSchema
from inventory.plant_files.faults import FaultList
from inventory.plant_files.opening import open_stock
from inventory.plant_files.order_books import OrdersWritten, span_of, write_orders
from inventory.plant_files.order_rows import gather_orders
from inventory.plant_files.progress import Progress, no_progress
from inventory.plant_files.records import Known, field_values, record_faults, remember, save_rows
from inventory.plant_files.schema import FILE_BY_NAME, PLANT_FILES
from inventory.plant_files.schema_books import OPENING_STOCK, ORDERS
from inventory.plant_files.schema_catalogue import ITEMS, MATERIALS, SKUS
from inventory.plant_files.schema_plant import CLOSURES, PARAMETER_KEYS, PARAMETERS, WORK_DAYS
from inventory.plant_files.statistics import analyse
from inventory.plant_files.table import Row, read_cell, read_table
from inventory.rules.calendar import CalendarError, PlantCalendar
from inventory.rules.texts import text
from inventory.selectors.plant import plant_calendar


class PlantNotEmptyError(ConflictError):
    """There are records already; a plant is only loaded into an empty database."""

    code = "plant_not_empty"


@dataclass(frozen=True)
class LoadReport:
    """What was loaded."""

    as_of: datetime
    rows: Mapping[str, int]
    missing: tuple[str, ...]
    orders: OrdersWritten


@transaction.atomic
def load_plant(directory: Path, *, as_of: datetime | None, progress: Progress = no_progress) -> LoadReport:
    """Load a plant.

    Parameters
    ----------
    directory : Path
        Folder that holds the files of `inventory.plant_files.schema`.
    as_of : datetime or None
        The instant at which the books open: opening stock is on its place, open orders are promised. None: the
        arrival of the newest order.
    progress : callable
        Told what is being done and how far it is.

    Raises
    ------
    PlantNotEmptyError
        If the database holds a plant already.
    PlantFileError
        With up to fifty faults of the first file that has any.
    InvalidInputError
        If there is no instant to load as of, or the folder is none.
    """
    _refuse_if_not_empty()
    _refuse_unknown_files(directory)
    tables: dict[str, tuple[list[Row], FaultList]] = {}
    for number, schema in enumerate(PLANT_FILES):
        progress("reading files", number, len(PLANT_FILES))
        tables[schema.name] = read_table(directory / schema.name, schema)
    opened_at = as_of or _newest(tables[ORDERS.name][0])
    known: Known = {}
    for number, schema in enumerate(PLANT_FILES[:-2]):
        progress("catalogue and plant", number, len(PLANT_FILES) - 2)
        rows, faults = tables[schema.name]
        _SAVERS.get(schema.name, save_rows)(schema, rows, known=known, faults=faults)
    calendar = _calendar(tables[ORDERS.name][0], as_of=opened_at)
    _check_calendar(calendar, as_of=opened_at, known=known)
    progress("opening stock", 0, 1)
    rows, faults = tables[OPENING_STOCK.name]
    open_stock(rows, as_of=opened_at, known=known, faults=faults)
    written = _load_orders(tables[ORDERS.name], as_of=opened_at, known=known, calendar=calendar, progress=progress)
    analyse(apps.get_app_config("inventory").get_models())
    return LoadReport(
        as_of=opened_at,
        rows={name: len(rows) for name, (rows, _) in tables.items()},
        missing=tuple(schema.name for schema in PLANT_FILES if not (directory / schema.name).exists()),
        orders=written,
    )


def _refuse_if_not_empty() -> None:
    for model in (PlantParameters, WorkDay, Closure, Item, Line, Dryer, Oven, Cart, Channel, Lot, Order):
        if count := model._default_manager.count():
            raise PlantNotEmptyError(
                "The database is not empty: it holds {count} {records}. A plant is only loaded into an empty database.",
                count=count,
                records=model._meta.verbose_name_plural,
            )


def _refuse_unknown_files(directory: Path) -> None:
    """A misspelt name of a file that may be missing must not pass as a missing file."""
    if not directory.is_dir():
        raise InvalidInputError("{directory} is not a folder.", directory=directory)
    for path in sorted(directory.glob("*.csv")):
        if path.name not in FILE_BY_NAME:
            faults = FaultList(path.name)
            faults.add(0, "", text("is none of the files of a plant: {names}.", names=", ".join(FILE_BY_NAME)))
            faults.refuse()


def _newest(rows: Sequence[Row]) -> datetime:
    if not rows:
        raise InvalidInputError(
            "There is no order to tell the instant of the plant: give the instant as of which to load."
        )
    newest: datetime = max(row.values["received_at"] for row in rows)
    return newest


def _calendar(orders: Sequence[Row], *, as_of: datetime) -> PlantCalendar:
    first, last = span_of([row.values["received_at"] for row in orders], as_of=as_of)
    return plant_calendar(first=first, last=last)


def _check_calendar(calendar: PlantCalendar, *, as_of: datetime, known: Known) -> None:
    """Refuse a week or closures in which no spool could ever be dried, packed and shipped."""
    week, rules = FaultList(WORK_DAYS.name), calendar.day_rules.values()
    materials: Sequence[Material] = list(known[MATERIALS.name].values())
    dried = [material.code for material in materials if material.spool_dry_hours > 0]
    if not any(rule.pack_from for rule in rules):
        week.add(0, "pack_from", text("nobody packs on any weekday: no spool could ever reach the shelf."))
    if dried and not any(rule.oven_load_at for rule in rules):
        week.add(
            0, "oven_load_at", text("no oven is ever loaded, but spools of {dried} are dried.", dried=", ".join(dried))
        )
    week.refuse()
    try:
        longest_h = max((float(material.spool_dry_hours) for material in materials), default=0.0)
        calendar.first_ship_day(calendar.shelf_at(as_of, dry_h=longest_h))
    except CalendarError as error:
        closures = FaultList(CLOSURES.name)
        closures.add(
            0,
            "day",
            text("the plant is closed for too long after {as_of}: {error}", as_of=write_cell(as_of), error=error),
        )
        closures.refuse()


def _load_orders(
    table: tuple[list[Row], FaultList],
    *,
    as_of: datetime,
    known: Known,
    calendar: PlantCalendar,
    progress: Progress,
) -> OrdersWritten:
    rows, faults = table
    orders = gather_orders(
        rows,
        channels=known["channels.csv"],
        skus=known["skus.csv"],
        calendar=calendar,
        as_of=as_of,
        faults=faults,
    )
    faults.refuse()
    return write_orders(orders, calendar=calendar, as_of=as_of, progress=progress)


def _save_parameters(schema: FileSchema, rows: Sequence[Row], *, known: Known, faults: FaultList) -> None:
    by_key = {column.name: column for column in PARAMETER_KEYS}
    values: dict[str, object] = {}
    lines = {row.values["key"]: row.line for row in rows}
    for row in rows:
        column = by_key.get(row.values["key"])
        if column is None:
            faults.add(
                row.line, "key", text("{key!r} is none of {keys}.", key=row.values["key"], keys=", ".join(by_key))
            )
            continue
        try:
            value = read_cell(column, row.values["value"] or "")
        except CellError as error:
            faults.add(row.line, "value", text("{column}: {error}", column=column.name, error=error))
            continue
        if value is not None:
            values[column.name] = value
    for name, column in by_key.items():
        if column.is_required and name not in lines:
            faults.add(0, "key", text("the key {name} is missing and must be given.", name=name))
    faults.refuse()
    record = PlantParameters(**values)
    _check_parameters(record, schema, lines=lines, faults=faults)
    faults.refuse()
    record.save(force_insert=True)
    known[schema.name] = {}


def _check_parameters(
    record: PlantParameters, schema: FileSchema, *, lines: Mapping[str, int], faults: FaultList
) -> None:
    if record.time_zone not in zoneinfo.available_timezones():
        faults.add(
            lines["time_zone"],
            "value",
            text("{time_zone!r} is no time zone of the IANA database.", time_zone=record.time_zone),
        )
    country, part = record.holiday_country, record.holiday_subdivision
    countries = holidays.list_supported_countries()
    if country and country not in countries:
        faults.add(
            lines["holiday_country"],
            "value",
            text("no public holidays are known for country {country!r}.", country=country),
        )
    elif part and part not in countries.get(country, []):
        faults.add(
            lines["holiday_subdivision"],
            "value",
            text("{part!r} is no part of country {country!r} with own holidays.", part=part, country=country),
        )
    for name, reason in record_faults(record, schema):
        faults.add(lines.get(name, 0), "value", text("{name}: {reason}", name=name, reason=reason))


def _save_work_days(schema: FileSchema, rows: Sequence[Row], *, known: Known, faults: FaultList) -> None:
    if not any(row.values["cut_off"] for row in rows):
        faults.add(0, "cut_off", text("no weekday has a cut-off: nothing could ever ship."))
    save_rows(schema, rows, known=known, faults=faults)


def _save_skus(schema: FileSchema, rows: Sequence[Row], *, known: Known, faults: FaultList) -> None:
    """A SKU is an item of the ledger and what is sold; both are made from one row."""
    skus: list[Sku] = []
    for row in rows:
        values = field_values(schema, row, known=known, faults=faults)
        if values is None:
            continue
        item = Item(code=values.pop("code"), name=values.pop("name"), kind=Item.Kind.SKU, unit=Item.Unit.SPOOL)
        if item.code in known["items.csv"]:
            faults.add(row.line, "code", text("{item!r} is a code of items.csv already.", item=item.code))
        sku = Sku(item=item, **values)
        for column, reason in (*record_faults(item, ITEMS), *record_faults(sku, schema)):
            faults.add(row.line, column, reason)
        skus.append(sku)
    faults.refuse()
    Item.objects.bulk_create(sku.item for sku in skus)
    for sku in skus:
        sku.item_id = sku.item.pk
    Sku.objects.bulk_create(skus)
    remember(schema, rows, skus, known=known)


_SAVERS = {PARAMETERS.name: _save_parameters, WORK_DAYS.name: _save_work_days, SKUS.name: _save_skus}
