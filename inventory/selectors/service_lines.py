"""The lines that a service report judges, as one table: what was wanted of each, and what shipped in time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, datetime, time, timedelta

import pandas as pd
from django.db.models import Case, F, FilteredRelation, Q, QuerySet, When

from inventory.models import OrderLine, OrderLineChange, ShipmentLine, Sku
from inventory.rules.calendar import PlantCalendar

# An order of the plant's own use is no promise to a customer.
CUSTOMER_KINDS = ("regular", "project")
Reason = OrderLineChange.Reason
# What a line is judged by, and what is told of it where it missed: few do, and text and days take their time to read.
FIELDS = {
    "line_id": "pk",
    "order_id": "order_id",
    "day": "day",
    "quantity": "quantity",
    "left_in_time": "left_in_time",
}
TOLD = {
    "line_id": "pk",
    "channel": "order__channel__code",
    "reference": "order__reference",
    "line_no": "line_no",
    "sku_code": "sku__item__code",
    "is_history": "order__is_history",
    "may_part_ship": "order__may_part_ship",
    "due_day": "order__due_day",
    "wanted_day": "order__wanted_day",
    "promised_day": "promised_day",
}
# Of a change of the line's quantity.
CHANGE = {
    "delta": "changed__delta",
    "reason": "changed__reason",
    "occurred_at": "changed__occurred_at",
    "known_at": "changed__known_at",
}
# Well below the number of parameters that SQLite takes in one statement.
IDS_AT_ONCE = 5_000


def service_lines(*, first: date, last: date, as_of: datetime, calendar: PlantCalendar) -> pd.DataFrame:
    """Return the lines whose day is in the window, in the order of their ids. Three queries.

    Columns of `FIELDS`, `day` being the due day, or the quoted day of a made-to-order line, None before it is quoted;
    `is_stocked`, `day_end` (its pick-up), `wanted`, `added_late` and `in_time` in spools, `is_cancelled_by_shop`. Lines
    of which nothing was wanted in the end are left out.
    """
    today = calendar.local_day(as_of)
    read = pd.concat(_in_window(first=first, last=last, as_of=as_of, today=today), ignore_index=True)
    lines = read.drop(columns=list(CHANGE)).drop_duplicates("line_id").set_index("line_id", drop=False).sort_index()
    ends = {day: day_end(day, calendar=calendar) for day in lines["day"].dropna().unique()}
    lines["day_end"] = pd.to_datetime(lines["day"].map(ends), utc=True)
    changes = read.loc[read["delta"].notna(), ["line_id", *CHANGE]]
    lines = _with_wanted(lines, changes, as_of=as_of)
    lines["in_time"] = _in_time(lines, _shipments(lines.index, as_of=as_of))
    return lines[lines["wanted"] > 0]


def with_told(missed: pd.DataFrame) -> pd.DataFrame:
    """Return these lines with the columns of `TOLD`. One query for every 5,000 lines."""
    rows = [
        row
        for ids in in_parts([int(line_id) for line_id in missed.index])
        for row in OrderLine.objects.filter(pk__in=ids).order_by().values_list(*TOLD.values())
    ]
    told = pd.DataFrame.from_records(rows, columns=list(TOLD)).set_index("line_id")
    return missed.join(told.astype({"is_history": bool}))


def in_parts(ids: Sequence[int]) -> Iterator[Sequence[int]]:
    """Part ids into as many as one statement takes."""
    return (ids[start : start + IDS_AT_ONCE] for start in range(0, len(ids), IDS_AT_ONCE))


def day_end(day: date, *, calendar: PlantCalendar) -> datetime:
    """The pick-up of a day; midnight after it where a closure was entered since and nothing leaves."""
    if calendar.is_ship_day(day):
        return calendar.pick_up_at(day)
    return calendar.at(day + timedelta(days=1), time(0))


def _in_window(*, first: date, last: date, as_of: datetime, today: date) -> Iterator[pd.DataFrame]:
    """What is stocked, then what is made to order: apart, each finds its index; as alternatives, none."""
    due = Q(order__due_day__range=(first, last))
    quoted = Q(quoted_day__range=(first, last)) | Q(quoted_day__isnull=True) & due
    made_to_order = Sku.objects.filter(is_stocked=False).values("pk")
    # With the line, in one statement, come the changes that its quantity is not to be read with: a change that was
    # written between two statements would be in one of them only. Most lines stay as they were placed.
    not_placed = ~Q(changes__reason=Reason.PLACED) | Q(changes__known_at__gt=as_of)
    known = OrderLine.objects.filter(order__known_at__lte=as_of, order__kind__in=CUSTOMER_KINDS).order_by()
    known = known.annotate(changed=FilteredRelation("changes", condition=not_placed))
    yield _read(known.filter(due, sku__is_stocked=True), F("order__due_day"), today=today).assign(is_stocked=True)
    yield _read(known.filter(quoted, sku_id__in=made_to_order), F("quoted_day"), today=today).assign(is_stocked=False)


def _read(lines: QuerySet[OrderLine], day: F, *, today: date) -> pd.DataFrame:
    # History has no shipments, only the day on which the last of a line left.
    has_left = Q(order__is_history=True, shipped_complete_day__lte=today) & Q(shipped_complete_day__lte=day)
    told = lines.annotate(day=day, left_in_time=Case(When(has_left, then=F("shipped")), default=0))
    rows = told.values_list(*FIELDS.values(), *CHANGE.values())
    return pd.DataFrame.from_records(list(rows), columns=[*FIELDS, *CHANGE])


def _shipments(lines: pd.Index, *, as_of: datetime) -> pd.DataFrame:
    rows = ShipmentLine.objects.filter(_from_first(lines), shipment__known_at__lte=as_of)
    values = rows.order_by().values_list("order_line_id", "quantity", "shipment__ship_day")
    frame = pd.DataFrame.from_records(list(values), columns=["line_id", "quantity", "ship_day"])
    return frame[frame["line_id"].isin(lines)]


def _from_first(lines: pd.Index) -> Q:
    """From the first line on: ids grow with the orders' arrival, and a list of ids or a query within is slower."""
    return Q(order_line_id__gte=int(lines.min())) if len(lines) else Q(pk__in=[])


def _with_wanted(lines: pd.DataFrame, changes: pd.DataFrame, *, as_of: datetime) -> pd.DataFrame:
    """What a customer takes back in time was not wanted; what the shop takes back was.

    The quantity of a line as it stands is the sum of all of its changes: what does not count is taken out of it.
    """
    occurred, known = (pd.to_datetime(changes[column], utc=True) for column in ("occurred_at", "known_at"))
    is_known = known <= as_of
    is_after = is_known & (occurred.to_numpy() >= lines["day_end"].reindex(changes["line_id"]).to_numpy())
    is_less = changes["delta"] < 0
    by_shop = is_known & (changes["reason"] == Reason.CANCELLED_BY_SHOP)
    not_counted = changes[~is_known | by_shop | is_less & is_after]
    return lines.assign(
        wanted=lines["quantity"] - _per_line(not_counted, "delta", lines),
        added_late=_per_line(changes[is_after & ~is_less], "delta", lines),
        is_cancelled_by_shop=lines.index.isin(changes.loc[by_shop, "line_id"]),
    )


def _in_time(lines: pd.DataFrame, shipments: pd.DataFrame) -> pd.Series:
    days = lines["day"].reindex(shipments["line_id"])
    is_in_time = pd.to_datetime(shipments["ship_day"]).to_numpy() <= pd.to_datetime(days).to_numpy()
    booked = _per_line(shipments[is_in_time], "quantity", lines)
    return (lines["left_in_time"] + booked).clip(upper=lines["wanted"]).astype("int64")


def _per_line(rows: pd.DataFrame, column: str, lines: pd.DataFrame) -> pd.Series:
    sums = rows.groupby("line_id")[column].sum()
    return sums.reindex(lines.index, fill_value=0).astype("int64")
