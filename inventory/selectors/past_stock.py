"""Stock of SKUs as the books knew it at a past instant: summed from movements and allocations known until then."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

from django.db.models import Max, Q, Sum

from inventory.models import Allocation, MovementLine, Place, RunOutputPlan
from inventory.rules.flows import PIPELINE
from inventory.selectors.run_plans import output_plans


@dataclass
class PastStock:
    """Stock of one SKU at an instant. `outputs` holds (shelf day, awaited, allocated) of each supply."""

    on_shelf: int = 0
    allocated: int = 0
    outputs: list[tuple[date, int, int]] = field(default_factory=list)
    changed_at: datetime | None = None

    def learn(self, known_at: datetime | None) -> None:
        """Note when a fact about the SKU became known."""
        if known_at is not None and (self.changed_at is None or known_at > self.changed_at):
            self.changed_at = known_at


def past_stock(sku_ids: Sequence[int], *, as_of: datetime) -> dict[int, PastStock]:
    """Return the stock of SKUs as of an instant. Seven queries, whatever their number."""
    stock = {sku_id: PastStock() for sku_id in sku_ids}
    _add_movements(stock, as_of=as_of)
    by_output = _add_allocations(stock, as_of=as_of)
    _add_outputs(stock, by_output, as_of=as_of)
    return stock


def _add_movements(stock: dict[int, PastStock], *, as_of: datetime) -> None:
    lines = MovementLine.objects.filter(item_id__in=list(stock), movement__known_at__lte=as_of).order_by()
    for sign, place in ((1, "to_place__kind"), (-1, "from_place__kind")):
        moved = lines.filter(**{place: Place.Kind.SHELF}).values_list("item_id")
        for sku_id, quantity, known_at in moved.annotate(Sum("quantity"), Max("movement__known_at")):
            stock[sku_id].on_shelf += sign * int(quantity)
            stock[sku_id].learn(known_at)


def _live(*, as_of: datetime) -> Q:
    return Q(created_known_at__lte=as_of) & (Q(ended_known_at__isnull=True) | Q(ended_known_at__gt=as_of))


def _add_allocations(stock: dict[int, PastStock], *, as_of: datetime) -> dict[int, int]:
    """Add what was allocated of the shelf; return what was allocated of each run output."""
    rows = Allocation.objects.filter(order_line__sku_id__in=list(stock), created_known_at__lte=as_of).order_by()
    by_output: dict[int, int] = {}
    live = rows.filter(_live(as_of=as_of)).values_list("order_line__sku_id", "run_output_id")
    for sku_id, output_id, quantity in live.annotate(Sum("quantity")):
        if output_id is None:
            stock[sku_id].allocated += quantity
        else:
            by_output[output_id] = quantity
    _learn(stock, rows.values_list("order_line__sku_id").annotate(Max("created_known_at")))
    ended = rows.filter(ended_known_at__lte=as_of).values_list("order_line__sku_id")
    _learn(stock, ended.annotate(Max("ended_known_at")))
    return by_output


def _learn(stock: dict[int, PastStock], facts: Iterable[tuple[int, datetime]]) -> None:
    for sku_id, known_at in facts:
        stock[sku_id].learn(known_at)


def _add_outputs(stock: dict[int, PastStock], by_output: dict[int, int], *, as_of: datetime) -> None:
    in_pipeline = _in_pipeline(list(stock), as_of=as_of)
    for output_id, plan in output_plans(Q(run_output__sku__in=list(stock)), as_of=as_of).items():
        run, past = plan.run_output.run, stock[plan.run_output.sku_id]
        for known_at in (plan.known_at, run.finished_known_at, run.cancelled_known_at):
            past.learn(known_at if known_at is not None and known_at <= as_of else None)
        if awaited := _awaited(plan, in_pipeline, as_of=as_of):
            past.outputs.append((plan.shelf_day, awaited, by_output.get(output_id, 0)))


def _awaited(plan: RunOutputPlan, in_pipeline: dict[tuple[int, int], int], *, as_of: datetime) -> int:
    run = plan.run_output.run
    if run.cancelled_known_at is not None and run.cancelled_known_at <= as_of:
        return 0
    if run.finished_known_at is not None and run.finished_known_at <= as_of:
        return in_pipeline.get((run.pk, plan.run_output.sku_id), 0)
    return plan.planned


def _in_pipeline(sku_ids: Sequence[int], *, as_of: datetime) -> dict[tuple[int, int], int]:
    """Wound spools on their way to the shelf, by run and SKU."""
    lines = MovementLine.objects.filter(lot__run__isnull=False, item_id__in=sku_ids, movement__known_at__lte=as_of)
    spools: dict[tuple[int, int], int] = defaultdict(int)
    fields = ("lot__run_id", "item_id", "quantity", "from_place__kind", "to_place__kind")
    for run_id, sku_id, quantity, source, target in lines.values_list(*fields):
        spools[run_id, sku_id] += int(quantity) * ((target in PIPELINE) - (source in PIPELINE))
    return spools
