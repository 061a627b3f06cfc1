"""The lines that a service report judges, as one table: what was wanted of each, and what shipped in time."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime, time, timedelta
from typing import Any

import pandas as pd
from django.db.models import Q

from inventory.models import OrderLine, OrderLineChange, ShipmentLine, Sku
from inventory.rules.calendar import PlantCalendar

# An order of the plant's own use is no promise to a customer.
CUSTOMER_KINDS = ("regular", "project")
Reason = OrderLineChange.Reason
# What a line is judged by, and what is told of it where it missed: few do, and text and days take their time to read.
FIELDS = {
    "line_id": "pk",
    "order_id": "order_id",
    "is_stocked": "sku__is_stocked",
    "is_history": "order__is_history",
    "due_day": "order__due_day",
    "quoted_day": "quoted_day",
    "shipped": "shipped",
    "shipped_complete_day": "shipped_complete_day",
}
TOLD = {
    "line_id": "pk",
    "channel": "order__channel__code",
    "reference": "order__reference",
    "line_no": "line_no",
    "sku_code": "sku__item__code",
    "may_part_ship": "order__may_part_ship",
    "wanted_day": "order__wanted_day",
    "promised_day": "promised_day",
}
# Well below the number of parameters that SQLite takes in one statement.
IDS_AT_ONCE = 5_000


def service_lines(*, first: date, last: date, as_of: datetime, calendar: PlantCalendar) -> pd.DataFrame:
    """Return the lines whose day is in the window, in the order of their ids. Five queries.

    Columns of `FIELDS`, and `day` (due day, or quoted day of a made-to-order line, None before it is quoted),
    `day_end` (its pick-up), `wanted`, `added_late` and `in_time` in spools, `is_cancelled_by_shop`. Lines of which
    nothing was wanted in the end are left out.
    """
    rows = [row for asked in _in_window(first=first, last=last, as_of=as_of) for row in asked]
    lines = pd.DataFrame.from_records(rows, columns=list(FIELDS)).set_index("line_id", drop=False).sort_index()
    lines = lines.astype({"is_stocked": bool, "is_history": bool})
    lines["day"] = lines["due_day"].where(lines["is_stocked"], lines["quoted_day"])
    ends = {day: day_end(day, calendar=calendar) for day in lines["day"].dropna().unique()}
    lines["day_end"] = pd.to_datetime(lines["day"].map(ends), utc=True)
    lines = _with_wanted(lines, _changes(lines.index, as_of=as_of))
    lines["in_time"] = _in_time(lines, _shipments(lines.index, as_of=as_of), today=calendar.local_day(as_of))
    return lines[lines["wanted"] > 0]


def with_told(missed: pd.DataFrame) -> pd.DataFrame:
    """Return these lines with the columns of `TOLD`. One query for every 5,000 lines."""
    rows = [
        row
        for ids in in_parts([int(line_id) for line_id in missed.index])
        for row in OrderLine.objects.filter(pk__in=ids).order_by().values_list(*TOLD.values())
    ]
    told = pd.DataFrame.from_records(rows, columns=list(TOLD)).set_index("line_id")
    return missed.join(told)


def in_parts(ids: Sequence[int]) -> Iterator[Sequence[int]]:
    """Part ids into as many as one statement takes."""
    return (ids[start : start + IDS_AT_ONCE] for start in range(0, len(ids), IDS_AT_ONCE))


def day_end(day: date, *, calendar: PlantCalendar) -> datetime:
    """The pick-up of a day; midnight after it where a closure was entered since and nothing leaves."""
    if calendar.is_ship_day(day):
        return calendar.pick_up_at(day)
    return calendar.at(day + timedelta(days=1), time(0))


def _in_window(*, first: date, last: date, as_of: datetime) -> Iterator[Iterable[tuple[Any, ...]]]:
    """Rows of what is stocked, then of what is made to order: apart, each finds its index; as alternatives, none."""
    due = Q(order__due_day__range=(first, last))
    quoted = Q(quoted_day__range=(first, last)) | Q(quoted_day__isnull=True) & due
    made_to_order = Sku.objects.filter(is_stocked=False).values("pk")
    known = OrderLine.objects.filter(order__known_at__lte=as_of, order__kind__in=CUSTOMER_KINDS).order_by()
    yield known.filter(due, sku__is_stocked=True).values_list(*FIELDS.values())
    yield known.filter(quoted, sku_id__in=made_to_order).values_list(*FIELDS.values())


def _changes(lines: pd.Index, *, as_of: datetime) -> pd.DataFrame:
    """What was placed, and what changed it later. A line is placed before its day: its instant need not be read."""
    rows = OrderLineChange.objects.filter(_from_first(lines), known_at__lte=as_of).order_by()
    placed = rows.filter(reason=Reason.PLACED).values_list("order_line_id", "delta")
    later = rows.exclude(reason=Reason.PLACED).values_list("order_line_id", "delta", "reason", "occurred_at")
    frames = [
        pd.DataFrame.from_records(list(placed), columns=["line_id", "delta"]).assign(reason=Reason.PLACED.value),
        pd.DataFrame.from_records(list(later), columns=["line_id", "delta", "reason", "occurred_at"]),
    ]
    frame = pd.concat(frames, ignore_index=True)
    frame = frame[frame["line_id"].isin(lines)]
    return frame.assign(occurred_at=pd.to_datetime(frame["occurred_at"], utc=True))


def _shipments(lines: pd.Index, *, as_of: datetime) -> pd.DataFrame:
    rows = ShipmentLine.objects.filter(_from_first(lines), shipment__known_at__lte=as_of)
    values = rows.order_by().values_list("order_line_id", "quantity", "shipment__ship_day")
    frame = pd.DataFrame.from_records(list(values), columns=["line_id", "quantity", "ship_day"])
    return frame[frame["line_id"].isin(lines)]


def _from_first(lines: pd.Index) -> Q:
    """From the first line on: ids grow with the orders' arrival, and a list of ids or a query within is slower."""
    return Q(order_line_id__gte=int(lines.min())) if len(lines) else Q(pk__in=[])


def _with_wanted(lines: pd.DataFrame, changes: pd.DataFrame) -> pd.DataFrame:
    """What a customer takes back in time was not wanted; what the shop takes back was."""
    ends = lines["day_end"].reindex(changes["line_id"]).to_numpy()
    is_after = changes["occurred_at"].to_numpy() >= ends
    is_less = changes["delta"].to_numpy() < 0
    by_shop = (changes["reason"] == Reason.CANCELLED_BY_SHOP).to_numpy()
    wanted = _per_line(changes[~by_shop & ~(is_less & is_after)], "delta", lines)
    return lines.assign(
        wanted=wanted,
        added_late=_per_line(changes[is_after & ~is_less], "delta", lines),
        is_cancelled_by_shop=lines.index.isin(changes.loc[by_shop, "line_id"]),
    )


def _in_time(lines: pd.DataFrame, shipments: pd.DataFrame, *, today: date) -> pd.Series:
    days = lines["day"].reindex(shipments["line_id"])
    is_in_time = pd.to_datetime(shipments["ship_day"]).to_numpy() <= pd.to_datetime(days).to_numpy()
    booked = _per_line(shipments[is_in_time], "quantity", lines)
    # History has no shipments, only the day on which the last of a line left.
    left_on, day = pd.to_datetime(lines["shipped_complete_day"]), pd.to_datetime(lines["day"])
    is_left = (left_on <= day) & (left_on <= pd.Timestamp(today))
    history = lines["shipped"].where(is_left, 0)
    return booked.where(~lines["is_history"], history).clip(upper=lines["wanted"]).astype("int64")


def _per_line(rows: pd.DataFrame, column: str, lines: pd.DataFrame) -> pd.Series:
    sums = rows.groupby("line_id")[column].sum()
    return sums.reindex(lines.index, fill_value=0).astype("int64")
