"""Import an order table into a plant that is there already: all of it or nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from django.db import transaction

from inventory.errors import NotFoundError
from inventory.models import Channel, Order, OrderLine, OrderLineChange, Shipment, ShipmentLine, Sku
from inventory.plant_files.cells import write_cell
from inventory.plant_files.columns import FileSchema
from inventory.plant_files.faults import FaultList
from inventory.plant_files.order_books import OrdersWritten, left_at, span_of, write_orders
from inventory.plant_files.order_rows import OrderRecord, due_day_of, gather_orders
from inventory.plant_files.progress import Progress, no_progress
from inventory.plant_files.schema_books import ORDERS
from inventory.plant_files.statistics import analyse
from inventory.plant_files.table import Row, read_table
from inventory.rules.calendar import CalendarError, PlantCalendar
from inventory.rules.texts import text
from inventory.selectors.plant import plant_calendar

_NEEDED = ("reference", "received_at", "sku", "quantity")
# Of rows that are added up, these are added; all others must agree.
_ADDED = ("quantity", "shipped")

IMPORT_SCHEMA = FileSchema(
    name="order table",
    meaning="One line of one order. Lines are numbered by their rows; lines of the same SKU in an order are added up.",
    key=(),
    columns=(
        replace(ORDERS.column("channel"), empty="the channel named in the command", may_be_absent=True),
        *(
            column if column.name in _NEEDED else replace(column, may_be_absent=True)
            for column in ORDERS.columns
            if column.name not in ("channel", "line_no")
        ),
    ),
)


@dataclass(frozen=True)
class AddedUp:
    """A SKU that an order names in more than one row."""

    channel: str
    reference: str
    sku: str
    lines: tuple[int, ...]
    quantity: int


@dataclass(frozen=True)
class ImportReport:
    """What was imported."""

    written: OrdersWritten
    already_there: int
    added_up: tuple[AddedUp, ...]


@transaction.atomic
def import_orders(
    path: Path,
    *,
    as_of: datetime,
    channel: str | None = None,
    unknown_is_shipped: bool = False,
    progress: Progress = no_progress,
) -> ImportReport:
    """Import orders; they count as known from the instant at which they were received.

    Parameters
    ----------
    path : Path
        CSV file with the columns of `IMPORT_SCHEMA`.
    as_of : datetime
        No order is later; open ones are promised as of it.
    channel : str, optional
        Code of the channel of rows that name none.
    unknown_is_shipped : bool
        Lines without an outcome count as shipped on their due day where that is past. For a history that tells
        only what was ordered.
    progress : callable
        Told what is being done and how far it is.

    Raises
    ------
    NotFoundError
        If no plant is loaded, or `channel` is none of its channels.
    PlantFileError
        With up to fifty faults of the file.
    """
    channels = {row.code: row for row in Channel.objects.all()}
    if channel is not None and channel not in channels:
        raise NotFoundError(
            "There is no channel {channel!r}; the channels are {channels}.",
            channel=channel,
            channels=", ".join(channels) or text("none"),
        )
    progress("reading orders", 0, 1)
    read, faults = read_table(path, IMPORT_SCHEMA)
    faults.refuse()
    rows, added_up = _add_up(_with_channel(read, channel, faults), faults)
    first, last = span_of([row.values["received_at"] for row in rows], as_of=as_of)
    calendar = plant_calendar(first=first, last=last)
    if unknown_is_shipped:
        rows = [_as_shipped(row, calendar=calendar, as_of=as_of) for row in rows]
    skus = {sku.item.code: sku for sku in Sku.objects.select_related("item")}
    orders = gather_orders(rows, channels=channels, skus=skus, calendar=calendar, as_of=as_of, faults=faults)
    new = _new_only(orders, rows, faults)
    faults.refuse()
    written = write_orders(new, calendar=calendar, as_of=as_of, progress=progress)
    if new:
        analyse((Order, OrderLine, OrderLineChange, Shipment, ShipmentLine))
    return ImportReport(written=written, already_there=len(orders) - len(new), added_up=tuple(added_up))


def _with_channel(rows: Sequence[Row], channel: str | None, faults: FaultList) -> list[Row]:
    named = []
    for row in rows:
        code = row.values["channel"] or channel
        if code is None:
            faults.add(row.line, "channel", text("must be filled, or the channel be named in the command."))
        else:
            named.append(Row(row.line, {**row.values, "channel": code}))
    return named


def _add_up(rows: Sequence[Row], faults: FaultList) -> tuple[list[Row], list[AddedUp]]:
    """Join the rows of one SKU in an order and number the lines of each order."""
    groups: dict[tuple[str, str], dict[str, list[Row]]] = {}
    for row in rows:
        order = groups.setdefault((row.values["channel"], row.values["reference"]), {})
        order.setdefault(row.values["sku"], []).append(row)
    joined, added_up = [], []
    for (channel, reference), by_sku in groups.items():
        for number, (sku, members) in enumerate(by_sku.items(), start=1):
            values = _joined(members, faults) if len(members) > 1 else members[0].values
            joined.append(Row(members[0].line, {**values, "line_no": number}))
            if len(members) > 1:
                lines = tuple(row.line for row in members)
                added_up.append(AddedUp(channel, reference, sku, lines, values["quantity"]))
    return joined, added_up


def _joined(rows: Sequence[Row], faults: FaultList) -> Mapping[str, Any]:
    values = dict(rows[0].values)
    for row in rows[1:]:
        for name, value in row.values.items():
            if name in _ADDED:
                values[name] = None if value is None and values[name] is None else (values[name] or 0) + (value or 0)
            elif value != values[name]:
                was = repr(write_cell(values[name])) if write_cell(values[name]) else text("'empty'")
                faults.add(
                    row.line,
                    name,
                    text("line {line} of the same order and SKU has {was}.", line=rows[0].line, was=was),
                )
    return values


def _as_shipped(row: Row, *, calendar: PlantCalendar, as_of: datetime) -> Row:
    values = row.values
    if values["shipped_day"] or values["cancelled_by"] or values["shipped"] is not None:
        return row
    try:
        due_day = due_day_of(row, calendar=calendar)
    except CalendarError:
        # Named with its line and column when the orders are gathered.
        return row
    if left_at(due_day, calendar=calendar) > as_of:
        return row
    return Row(row.line, {**values, "shipped_day": due_day})


def _new_only(orders: Sequence[OrderRecord], rows: Sequence[Row], faults: FaultList) -> list[OrderRecord]:
    """Leave out orders that the books have already; another order under the same reference is a fault."""
    stored = {
        (code, reference): digest
        for code, reference, digest in Order.objects.order_by().values_list("channel__code", "reference", "body_digest")
    }
    line_of = {(row.values["channel"], row.values["reference"]): row.line for row in reversed(rows)}
    new = []
    for order in orders:
        key = (order.channel.code, order.draft.reference)
        if key not in stored:
            new.append(order)
        elif stored[key] != order.draft.digest:
            faults.add(
                line_of[key],
                "reference",
                text(
                    "channel {channel} has order {reference} already, with another content.",
                    channel=key[0],
                    reference=key[1],
                ),
            )
    return new
