"""Rows of an order table become orders with their outcome; what contradicts itself is a fault."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from inventory.errors import InvalidInputError
from inventory.models import Channel, Sku
from inventory.plant_files.cells import write_cell
from inventory.plant_files.faults import FaultList
from inventory.plant_files.table import Row
from inventory.rules.calendar import CalendarError, PlantCalendar
from inventory.rules.order_draft import OrderDraft, check_wanted_day
from inventory.rules.texts import Text, text

# Columns in which all rows of an order agree.
ORDER_COLUMNS = ("kind", "received_at", "wanted_day", "due_day", "may_part_ship", "ship_to")
MOST_LINE_NO = 32_767


@dataclass(frozen=True)
class LineRecord:
    """One order line with what came of it. `quantity` is as ordered; what was cancelled is still in it."""

    line_no: int
    sku: Sku
    quantity: int
    shipped: int
    shipped_day: date | None
    cancelled_by: str
    cancelled_at: datetime | None
    quoted_day: date | None

    @property
    def is_open(self) -> bool:
        return self.shipped < self.quantity and not self.cancelled_by

    @property
    def cancelled(self) -> int:
        return self.quantity - self.shipped if self.cancelled_by else 0


@dataclass(frozen=True)
class OrderRecord:
    """One order with its lines, as a file tells it."""

    channel: Channel
    draft: OrderDraft
    received_at: datetime
    due_day: date
    lines: tuple[LineRecord, ...]

    @property
    def is_open(self) -> bool:
        return any(line.is_open for line in self.lines)


def gather_orders(
    rows: Sequence[Row],
    *,
    channels: Mapping[str, Channel],
    skus: Mapping[str, Sku],
    calendar: PlantCalendar,
    as_of: datetime,
    faults: FaultList,
) -> list[OrderRecord]:
    """Return the orders in the order in which they arrived; faults are added, not raised."""
    grouped: dict[tuple[str, str], list[Row]] = {}
    for row in rows:
        if _is_known(row, channels=channels, skus=skus, faults=faults):
            grouped.setdefault((row.values["channel"], row.values["reference"]), []).append(row)
    orders = []
    today = calendar.local_day(as_of)
    for (channel, _), members in grouped.items():
        members.sort(key=lambda row: row.values["line_no"])
        lines = [
            _line(row, sku=skus[row.values["sku"]], as_of=as_of, calendar=calendar, faults=faults) for row in members
        ]
        draft = _draft(members, as_of=as_of, today=today, faults=faults)
        due_day = _due_day(members[0], calendar=calendar, faults=faults)
        if draft is not None and due_day is not None:
            received_at = members[0].values["received_at"]
            orders.append(OrderRecord(channels[channel], draft, received_at, due_day, tuple(lines)))
    return sorted(orders, key=lambda order: (order.received_at, order.channel.code, order.draft.reference))


def due_day_of(row: Row, *, calendar: PlantCalendar) -> date:
    """Return the due day of an order, as its row states it or by the calendar.

    Raises
    ------
    CalendarError
        If the calendar has no ship day for it.
    """
    stated: date | None = row.values["due_day"]
    return stated or calendar.due_day(row.values["received_at"], row.values["wanted_day"])


def _due_day(row: Row, *, calendar: PlantCalendar, faults: FaultList) -> date | None:
    try:
        return due_day_of(row, calendar=calendar)
    except CalendarError as error:
        column = "received_at" if row.values["wanted_day"] is None else "wanted_day"
        faults.add(row.line, column, text("leads to no due day: {error}", error=error))
        return None


def _is_known(row: Row, *, channels: Mapping[str, Channel], skus: Mapping[str, Sku], faults: FaultList) -> bool:
    is_known = True
    for column, known, where in (("channel", channels, "channels.csv"), ("sku", skus, "skus.csv")):
        if row.values[column] not in known:
            faults.add(row.line, column, text("{known!r} is not in {where}.", known=row.values[column], where=where))
            is_known = False
    return is_known


def _draft(rows: Sequence[Row], *, as_of: datetime, today: date, faults: FaultList) -> OrderDraft | None:
    """Check an order as a whole by the rules that an order of a channel must pass."""
    first = rows[0]
    values = first.values
    for row in rows[1:]:
        for column in ORDER_COLUMNS:
            if row.values[column] != values[column]:
                was = repr(write_cell(values[column])) if write_cell(values[column]) else text("'empty'")
                faults.add(row.line, column, text("line {line} of the same order has {was}.", line=first.line, was=was))
    if values["received_at"] > as_of:
        faults.add(
            first.line,
            "received_at",
            text("is after {as_of}, the instant as of which it is loaded.", as_of=write_cell(as_of)),
        )
    try:
        check_wanted_day(values["wanted_day"], today=max(today, values["received_at"].date()))
        return OrderDraft(
            channel_code=values["channel"],
            reference=values["reference"],
            lines=[(row.values["sku"], row.values["quantity"]) for row in rows],
            may_part_ship=bool(values["may_part_ship"]),
            wanted_day=values["wanted_day"],
            kind=values["kind"] or "regular",
            ship_to=values["ship_to"] or "",
        )
    except InvalidInputError as error:
        row, column = _place_of(error.pointer, rows)
        faults.add(row.line, column, error.text)
        return None


def _place_of(pointer: str, rows: Sequence[Row]) -> tuple[Row, str]:
    """Turn the pointer into a request (/lines/2/quantity) into a row and a column."""
    parts = pointer.strip("/").split("/")
    if parts[0] == "lines" and len(parts) == 3:
        return rows[int(parts[1])], parts[2]
    return rows[0], parts[0] if parts[0] != "lines" else "line_no"


def _line(row: Row, *, sku: Sku, as_of: datetime, calendar: PlantCalendar, faults: FaultList) -> LineRecord:
    values = row.values
    shipped = values["shipped"]
    if shipped is None:
        shipped = values["quantity"] if values["shipped_day"] else 0
    for column, fault in _outcome_faults(row, shipped=shipped, as_of=as_of, calendar=calendar):
        faults.add(row.line, column, fault)
    if not 1 <= values["line_no"] <= MOST_LINE_NO:
        faults.add(row.line, "line_no", text("must be from 1 to {most}.", most=MOST_LINE_NO))
    return LineRecord(
        line_no=values["line_no"],
        sku=sku,
        quantity=values["quantity"],
        shipped=shipped,
        shipped_day=values["shipped_day"],
        cancelled_by=values["cancelled_by"] or "",
        cancelled_at=values["cancelled_at"] or (values["received_at"] if values["cancelled_by"] else None),
        quoted_day=values["quoted_day"],
    )


def _outcome_faults(row: Row, *, shipped: int, as_of: datetime, calendar: PlantCalendar) -> list[tuple[str, Text]]:
    values = row.values
    received_day, today = calendar.local_day(values["received_at"]), calendar.local_day(as_of)
    is_cancelled = bool(values["cancelled_by"])
    is_all = 0 < values["quantity"] == shipped
    day, cancelled_at = values["shipped_day"], values["cancelled_at"]
    checks = (
        (
            not 0 <= shipped <= values["quantity"],
            "shipped",
            text("must be from 0 to the quantity {quantity}.", quantity=values["quantity"]),
        ),
        (is_all and is_cancelled, "cancelled_by", text("nothing is left to cancel: all of it left.")),
        (is_all and day is None, "shipped_day", text("must be filled: all of it left.")),
        (
            day is not None and not is_all and not is_cancelled,
            "shipped_day",
            text("must be empty: the line is not complete, and nobody cancelled the rest."),
        ),
        (
            day is not None and day > today,
            "shipped_day",
            text("is after {today}, the day as of which it is loaded.", today=today),
        ),
        (
            day is not None and day < received_day,
            "shipped_day",
            text("is before the order arrived on {received_day}.", received_day=received_day),
        ),
        (cancelled_at is not None and not is_cancelled, "cancelled_at", text("nobody is named in cancelled_by.")),
        (
            cancelled_at is not None and cancelled_at < values["received_at"],
            "cancelled_at",
            text("is before received_at."),
        ),
        (
            cancelled_at is not None and cancelled_at > as_of,
            "cancelled_at",
            text("is after {as_of}.", as_of=write_cell(as_of)),
        ),
    )
    return [(column, reason) for is_fault, column, reason in checks if is_fault]
