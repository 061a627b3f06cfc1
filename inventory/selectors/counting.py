"""Count sheets as rows, how right the records are, and which SKUs to count next."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from django.db.models import Count, F, Max, OuterRef, Q, QuerySet, Subquery, Sum
from django.utils import timezone

from inventory.models import (
    CountLine,
    Movement,
    MovementLine,
    Order,
    OrderLine,
    OrderLineChange,
    Place,
    Sku,
)
from inventory.rules.counting import (
    Accuracy,
    CountResult,
    SettledCount,
    ValueClass,
    accuracy_of,
    chance_wrong,
    count_risk,
    error_share,
    value_classes,
)
from inventory.rules.texts import Text, text

YEAR = timedelta(days=365)
DEMAND_WINDOW = timedelta(days=91)


@dataclass(frozen=True)
class CountAccuracy:
    """Accuracy of the records by shelf place and by class."""

    by_place: tuple[Accuracy, ...]
    by_class: tuple[Accuracy, ...]


@dataclass(frozen=True)
class NextCount:
    """A SKU that is worth counting.

    Attributes
    ----------
    movements : int
        Lines of movements on the shelf since it was last counted, or since the books opened.
    order_lines_per_day : float
        Over the last 91 days.
    risk : float
        Order lines a day that are promised from a wrong record: chance_wrong x order_lines_per_day.
    """

    sku_code: str
    name: str
    shelf_place: str
    value_class: str
    last_counted_at: datetime | None
    movements: int
    chance_wrong: float
    order_lines_per_day: float
    risk: float

    @property
    def reason(self) -> Text:
        """Why it is here, in one sentence."""
        relies = {"chance": self.chance_wrong, "lines": self.order_lines_per_day, "n": self.movements}
        if self.last_counted_at is None:
            return text(
                "{n} movement and never counted: wrong by a chance of {chance:.0%}, "
                "and {lines:.2f} order lines a day rely on it.",
                "{n} movements and never counted: wrong by a chance of {chance:.0%}, "
                "and {lines:.2f} order lines a day rely on it.",
                **relies,
            )
        return text(
            "{n} movement and last counted {day}: wrong by a chance of {chance:.0%}, "
            "and {lines:.2f} order lines a day rely on it.",
            "{n} movements and last counted {day}: wrong by a chance of {chance:.0%}, "
            "and {lines:.2f} order lines a day rely on it.",
            day=timezone.localdate(self.last_counted_at),
            **relies,
        )


def count_accuracy(*, first: datetime, last: datetime, as_of: datetime | None = None) -> CountAccuracy:
    """Return how right the records were that were settled from `first` until before `last`. One query."""
    settled = CountLine.objects.filter(
        state=CountLine.State.SETTLED, settled_known_at__gte=first, settled_known_at__lt=last
    )
    if as_of is not None:
        settled = settled.filter(settled_known_at__lte=as_of)
    rows = list(
        settled.values_list("shelf_place", "value_class", "counted_spools", "book_spools", "sheet__tolerance_share")
    )
    return CountAccuracy(
        by_place=accuracy_of(_settled(row[0] or "not stated", row[2:]) for row in rows),
        by_class=accuracy_of(_settled(row[1], row[2:]) for row in rows),
    )


def next_counts(*, as_of: datetime, limit: int) -> list[NextCount]:
    """Return the SKUs that are most worth counting, by falling risk, then by movements. Eight queries.

    SKUs that wait on a sheet are left out, and those that nothing was ever moved of.
    """
    moved = _movements(as_of=as_of)
    last = _last_counts(as_of=as_of)
    share = error_share(
        wrong_counts=_wrong_counts(as_of=as_of),
        movements=sum(total - since for sku, (total, since) in moved.items() if sku in last),
    )
    lines = _order_lines_per_day(as_of=as_of)
    waiting = Q(count_lines__state__in=CountLine.WAITING)
    # Of all SKUs only the codes are read, and the records of those that are shown.
    codes = dict(Sku.objects.filter(pk__in=moved).exclude(waiting).values_list("pk", "item__code"))
    chance = {pk: chance_wrong(movements=moved[pk][1], error_share=share) for pk in codes}
    risk = {pk: count_risk(chance_wrong=chance[pk], order_lines_per_day=lines.get(pk, 0.0)) for pk in codes}
    worth = sorted(codes, key=lambda pk: (-risk[pk], -moved[pk][1], codes[pk]))[:limit]
    classes, skus = classes_of_skus(as_of=as_of), Sku.objects.select_related("item").in_bulk(worth)
    return [
        NextCount(
            sku_code=codes[pk],
            name=skus[pk].item.name,
            shelf_place=skus[pk].shelf_place,
            value_class=classes[pk],
            last_counted_at=last.get(pk),
            movements=moved[pk][1],
            chance_wrong=chance[pk],
            order_lines_per_day=lines.get(pk, 0.0),
            risk=risk[pk],
        )
        for pk in worth
    ]


def classes_of_skus(*, as_of: datetime) -> dict[int, ValueClass]:
    """Return the class of every SKU by the value of its last year's demand. Three queries.

    A line's quantity as it stands is the sum of its changes: what the shop took back was wanted all the same, and what
    became known later is left out.
    """
    ordered = OrderLine.ordered.filter(order__received_at__gt=as_of - YEAR)
    not_counted = OrderLineChange.objects.filter(
        Q(reason=OrderLineChange.Reason.CANCELLED_BY_SHOP) | Q(known_at__gt=as_of),
        order_line__order__received_at__gt=as_of - YEAR,
    ).exclude(order_line__order__kind=Order.Kind.KEPT)
    spools = Counter(dict(ordered.values_list(F("sku_id") + 0).order_by().annotate(Sum("quantity"))))
    spools.subtract(dict(not_counted.values_list(F("order_line__sku_id") + 0).order_by().annotate(Sum("delta"))))
    return value_classes({pk: spools[pk] * value for pk, value in Sku.objects.values_list("pk", "value")})


def _settled_as_of(as_of: datetime) -> QuerySet[CountLine]:
    return CountLine.objects.filter(state=CountLine.State.SETTLED, settled_known_at__lte=as_of)


def _last_counts(*, as_of: datetime) -> Mapping[int, datetime]:
    rows = _settled_as_of(as_of).values_list("sku_id").order_by()
    return dict(rows.annotate(Max("settled_at")))


def _wrong_counts(*, as_of: datetime) -> int:
    return _settled_as_of(as_of).exclude(counted_spools=F("book_spools")).count()


def _movements(*, as_of: datetime) -> dict[int, tuple[int, int]]:
    """Lines on the shelf by SKU: all of them, and those since its last count. Counts themselves are left out."""
    last = _settled_as_of(as_of).filter(sku_id=OuterRef("item_id")).order_by("-settled_at").values("settled_at")[:1]
    on_shelf = Q(from_place__kind=Place.Kind.SHELF) | Q(to_place__kind=Place.Kind.SHELF)
    lines = MovementLine.objects.filter(on_shelf, movement__known_at__lte=as_of).exclude(
        movement__kind=Movement.Kind.COUNT
    )
    since = Count("pk", filter=Q(last__isnull=True) | Q(movement__occurred_at__gt=F("last")))
    rows = lines.annotate(last=Subquery(last)).values("item_id").order_by().annotate(total=Count("pk"), since=since)
    return {row["item_id"]: (row["total"], row["since"]) for row in rows}


def _order_lines_per_day(*, as_of: datetime) -> dict[int, float]:
    rows = OrderLine.ordered.filter(order__received_at__gt=as_of - DEMAND_WINDOW, order__known_at__lte=as_of)
    # Not by the index of the SKUs, which would have SQLite read every line that was ever ordered.
    counts = rows.values_list(F("sku_id") + 0).order_by().annotate(Count("pk"))
    return {sku: count / DEMAND_WINDOW.days for sku, count in counts}


def _settled(group: str, row: tuple[int | None, int | None, Decimal]) -> SettledCount:
    counted, book, tolerance = row
    # A settled line has both (countline_settled_has_its_count).
    return SettledCount(group, CountResult(counted=counted or 0, book=book or 0), tolerance)
