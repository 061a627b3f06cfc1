"""The lines that a service report judges, as one table: what was wanted of each, and what shipped in time."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

import pandas as pd
from django.db.models import Q, QuerySet

from inventory.models import OrderLine, OrderLineChange, ShipmentLine
from inventory.rules.calendar import PlantCalendar

# An order of the plant's own use is no promise to a customer.
CUSTOMER_KINDS = ("regular", "project")
Reason = OrderLineChange.Reason
FIELDS = {
    "line_id": "pk",
    "order_id": "order_id",
    "channel": "order__channel__code",
    "reference": "order__reference",
    "line_no": "line_no",
    "sku_code": "sku__item__code",
    "is_stocked": "sku__is_stocked",
    "is_history": "order__is_history",
    "may_part_ship": "order__may_part_ship",
    "due_day": "order__due_day",
    "wanted_day": "order__wanted_day",
    "quoted_day": "quoted_day",
    "promised_day": "promised_day",
    "shipped": "shipped",
    "shipped_complete_day": "shipped_complete_day",
}


def service_lines(*, first: date, last: date, as_of: datetime, calendar: PlantCalendar) -> pd.DataFrame:
    """Return the lines whose day is in the window, in the order of their ids. Three queries.

    Columns of `FIELDS`, and `day` (due day, or quoted day of a made-to-order line, None before it is quoted),
    `day_end` (its pick-up), `wanted`, `added_late` and `in_time` in spools, `is_cancelled_by_shop`. Lines of which
    nothing was wanted in the end are left out.
    """
    asked = _in_window(first=first, last=last, as_of=as_of)
    lines = pd.DataFrame.from_records(list(asked.order_by("pk").values_list(*FIELDS.values())), columns=list(FIELDS))
    lines = lines.set_index("line_id", drop=False).astype({"is_stocked": bool, "is_history": bool})
    lines["day"] = lines["due_day"].where(lines["is_stocked"], lines["quoted_day"])
    ends = {day: day_end(day, calendar=calendar) for day in lines["day"].dropna().unique()}
    lines["day_end"] = pd.to_datetime(lines["day"].map(ends), utc=True)
    lines = _with_wanted(lines, _changes(asked, as_of=as_of))
    lines["in_time"] = _in_time(lines, _shipments(asked, as_of=as_of), today=calendar.local_day(as_of))
    return lines[lines["wanted"] > 0]


def day_end(day: date, *, calendar: PlantCalendar) -> datetime:
    """The pick-up of a day; midnight after it where a closure was entered since and nothing leaves."""
    if calendar.is_ship_day(day):
        return calendar.pick_up_at(day)
    return calendar.at(day + timedelta(days=1), time(0))


def _in_window(*, first: date, last: date, as_of: datetime) -> QuerySet[OrderLine]:
    due = Q(order__due_day__range=(first, last))
    is_stocked = Q(sku__is_stocked=True)
    quoted = Q(quoted_day__range=(first, last)) | Q(quoted_day__isnull=True) & due
    known = OrderLine.objects.filter(order__known_at__lte=as_of, order__kind__in=CUSTOMER_KINDS)
    return known.filter(is_stocked & due | ~is_stocked & quoted)


def _changes(lines: QuerySet[OrderLine], *, as_of: datetime) -> pd.DataFrame:
    rows = OrderLineChange.objects.filter(order_line__in=lines.order_by().values("pk"), known_at__lte=as_of)
    values = rows.order_by().values_list("order_line_id", "delta", "reason", "occurred_at")
    frame = pd.DataFrame.from_records(list(values), columns=["line_id", "delta", "reason", "occurred_at"])
    return frame.assign(occurred_at=pd.to_datetime(frame["occurred_at"], utc=True))


def _shipments(lines: QuerySet[OrderLine], *, as_of: datetime) -> pd.DataFrame:
    rows = ShipmentLine.objects.filter(order_line__in=lines.order_by().values("pk"), shipment__known_at__lte=as_of)
    values = rows.order_by().values_list("order_line_id", "quantity", "shipment__ship_day")
    return pd.DataFrame.from_records(list(values), columns=["line_id", "quantity", "ship_day"])


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
