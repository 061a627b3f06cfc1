"""Orders that should leave with the next pick-up: what of them lies on the shelf, and where the rest is."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import F, QuerySet
from django.utils.translation import gettext_noop

from inventory.models import Allocation, Balance, Order, OrderLine, OvenLoad, Place, Run, RunOutput
from inventory.rules.flows import PIPELINE
from inventory.selectors.plant import ship_calendar


@dataclass(frozen=True)
class AwaitedPart:
    """Spools of a line that a run has yet to bring and that are together, `stage` says where.

    Of the spools of a run, orders that are due first have those that are nearest to the shelf. `stage_at` is when that
    stage ends: the planned end of the run, or when the oven may be opened; None where nobody waits for a time.
    """

    run_code: str
    spools: int
    ship_day: date
    stage: str
    stage_at: datetime | None


@dataclass(frozen=True)
class DueLine:
    """What is still open of a line: spools that it holds of the shelf, spools of runs, and what nothing covers."""

    line_no: int
    sku_code: str
    sku_name: str
    gtin: str | None
    colour_hex: str
    shelf_place: str
    open_spools: int
    on_shelf: int
    awaited: tuple[AwaitedPart, ...]

    @property
    def uncovered(self) -> int:
        return self.open_spools - self.on_shelf - sum(part.spools for part in self.awaited)


@dataclass(frozen=True)
class DueOrder:
    """An open order that is due by the day of the list, with the lines that are not shipped yet."""

    order_id: int
    channel: str
    reference: str
    due_day: date
    may_part_ship: bool
    ship_to: str
    lines: tuple[DueLine, ...]

    @property
    def is_ready(self) -> bool:
        """Everything that is open lies on the shelf."""
        return all(line.on_shelf == line.open_spools for line in self.lines)

    @property
    def is_part_ready(self) -> bool:
        """Not everything lies there, but it may leave in parts and some of it can."""
        return not self.is_ready and self.may_part_ship and any(line.on_shelf for line in self.lines)


@dataclass(frozen=True)
class PickUp:
    """The next pick-up and the orders that should leave with it, those due first before the others."""

    ship_day: date
    cut_off_at: datetime
    pick_up_at: datetime
    orders: tuple[DueOrder, ...]

    @property
    def ready(self) -> tuple[DueOrder, ...]:
        return tuple(order for order in self.orders if order.is_ready)

    @property
    def part_ready(self) -> tuple[DueOrder, ...]:
        return tuple(order for order in self.orders if order.is_part_ready)

    @property
    def stuck(self) -> tuple[DueOrder, ...]:
        return tuple(order for order in self.orders if not (order.is_ready or order.is_part_ready))


class Stage:
    """How near spools of a run are to the shelf, in words that are marked for translators."""

    PACKING = gettext_noop("dry, waits to be packed")
    OVEN = gettext_noop("in the oven")
    WOUND = gettext_noop("wound, waits for the oven")
    STARTED = gettext_noop("being wound")
    RELEASED = gettext_noop("to be wound")


_STAGE_OF_PLACE: dict[str, str] = {
    Place.Kind.PACKING: Stage.PACKING,
    Place.Kind.OVEN: Stage.OVEN,
    Place.Kind.WOUND: Stage.WOUND,
}
_NEAREST_FIRST = tuple(_STAGE_OF_PLACE)
# Stage, when it ends, and how many spools are there.
_Where = tuple[str, datetime | None, int]


def next_pick_up(*, now: datetime) -> PickUp:
    """Return what should leave with the next pick-up. Eight queries.

    An order belongs to it if it is due by its day, whether its cut-off is past or orders still come in.

    Raises
    ------
    NotFoundError
        If no plant is loaded yet.
    """
    calendar = ship_calendar(first=now.date() - timedelta(days=1), last=now.date() + timedelta(days=30))
    ship_day = calendar.first_ship_day(now)
    found = _to_ship().filter(due_day__lte=ship_day)
    return PickUp(
        ship_day=ship_day,
        cut_off_at=calendar.cut_off_at(ship_day).astimezone(calendar.zone),
        pick_up_at=calendar.pick_up_at(ship_day).astimezone(calendar.zone),
        orders=_due_orders(found.order_by("due_day", "received_at", "id")),
    )


def due_order(order_id: int) -> DueOrder | None:
    """Return one open order as its packer sees it, None if there is no such order or it is closed. Five queries."""
    found = _due_orders(_to_ship().filter(pk=order_id))
    return found[0] if found else None


def _to_ship() -> QuerySet[Order]:
    return Order.ordered.filter(state=Order.State.OPEN).select_related("channel")


def _due_orders(orders: Iterable[Order]) -> tuple[DueOrder, ...]:
    found = list(orders)
    lines = (
        OrderLine.objects.filter(order_id__in=[order.pk for order in found], quantity__gt=F("shipped"))
        .select_related("sku__item", "sku__filament__colour")
        .order_by("order_id", "line_no")
    )
    by_order: defaultdict[int, list[OrderLine]] = defaultdict(list)
    for line in lines:
        by_order[line.order_id].append(line)
    held = _live_allocations([line.pk for group in by_order.values() for line in group])
    awaited = _awaited_parts([row.run_output for rows in held.values() for row in rows if row.run_output])
    return tuple(
        DueOrder(
            order_id=order.pk,
            channel=order.channel.code,
            reference=order.reference,
            due_day=order.due_day,
            may_part_ship=order.may_part_ship,
            ship_to=order.ship_to,
            lines=tuple(_due_line(line, held.get(line.pk, ()), awaited) for line in by_order[order.pk]),
        )
        for order in found
        if by_order[order.pk]
    )


def _live_allocations(line_ids: Sequence[int]) -> dict[int, list[Allocation]]:
    rows = Allocation.objects.filter(end="", order_line_id__in=line_ids).select_related("run_output__run")
    held: defaultdict[int, list[Allocation]] = defaultdict(list)
    for row in rows.order_by("run_output__shelf_day", "id"):
        held[row.order_line_id].append(row)
    return held


def _due_line(line: OrderLine, held: Sequence[Allocation], awaited: Mapping[int, tuple[AwaitedPart, ...]]) -> DueLine:
    sku = line.sku
    return DueLine(
        line_no=line.line_no,
        sku_code=sku.item.code,
        sku_name=sku.item.name,
        gtin=sku.gtin,
        colour_hex=sku.filament.colour.hex,
        shelf_place=sku.shelf_place,
        open_spools=line.quantity - line.shipped,
        on_shelf=sum(row.quantity for row in held if row.run_output is None),
        awaited=tuple(part for row in held for part in awaited.get(row.pk, ())),
    )


def _awaited_parts(outputs: Iterable[RunOutput]) -> dict[int, tuple[AwaitedPart, ...]]:
    """Return by allocation where the spools are that it has of these outputs."""
    by_id = {output.pk: output for output in outputs}
    where = _where_outputs_are(by_id.values())
    rows = Allocation.objects.filter(end="", run_output_id__in=by_id).order_by(
        "order_line__order__due_day", "order_line__order__received_at", "order_line__order_id", "id"
    )
    parts: dict[int, tuple[AwaitedPart, ...]] = {}
    for row in rows:
        output = by_id[row.run_output_id or 0]
        taken, where[output.pk] = _take(where[output.pk], row.quantity)
        parts[row.pk] = tuple(
            AwaitedPart(output.run.code, spools, output.shelf_day, stage, stage_at) for stage, stage_at, spools in taken
        )
    return parts


def _take(where: Sequence[_Where], spools: int) -> tuple[list[_Where], list[_Where]]:
    """Part what is taken, nearest first, from what is left of it."""
    taken: list[_Where] = []
    left: list[_Where] = []
    for stage, stage_at, there in where:
        some = min(there, spools)
        spools -= some
        taken += [(stage, stage_at, some)] if some else []
        left += [(stage, stage_at, there - some)] if there > some else []
    return taken, left


def _where_outputs_are(outputs: Iterable[RunOutput]) -> dict[int, list[_Where]]:
    """Return by output where its spools are, the place nearest to the shelf first, and last what is not wound yet."""
    found = list(outputs)
    rows = Balance.objects.filter(
        lot__run_id__in={output.run_id for output in found}, place__kind__in=PIPELINE, quantity__gt=0
    ).values_list("lot__run_id", "item_id", "place__kind", "place__oven_id", "quantity")
    opens_at = dict(OvenLoad.objects.filter(unloaded_at=None).values_list("oven_id", "ready_at"))
    wound: defaultdict[tuple[int | None, int], list[_Where]] = defaultdict(list)
    for run_id, sku_id, kind, oven_id, quantity in sorted(rows, key=lambda row: _NEAREST_FIRST.index(row[2])):
        wound[run_id, sku_id].append((_STAGE_OF_PLACE[kind], opens_at.get(oven_id), int(quantity)))
    return {output.pk: [*wound[output.run_id, output.sku_id], _on_line(output)] for output in found}


def _on_line(output: RunOutput) -> _Where:
    run = output.run
    stage = Stage.STARTED if run.state == Run.State.STARTED else Stage.RELEASED
    # What is wound comes first, so no more than are promised of it are asked for here.
    return stage, run.planned_end, output.allocated
