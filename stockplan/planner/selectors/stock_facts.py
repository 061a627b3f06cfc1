"""What is there and on its way as of an instant: shelf, pipeline, committed runs, materials, instructions.

Only facts with known_at <= as_of are read. What the tables keep only as it is now (what a line or hopper holds) is
read as it is now.
"""

from __future__ import annotations

from collections import defaultdict
from datetime import date, datetime
from decimal import Decimal

from django.db.models import Case, F, Q, Sum, Value, When

from inventory.models import Balance, Item, Movement, MovementLine, Place, Run, RunPlan, ShelfStock
from inventory.rules.flows import PIPELINE
from inventory.selectors.run_plans import output_plans, run_plans
from stockplan.planner.core.facts import CommittedRun, Instruction, InstructionKind, Pipeline, StoreItem
from stockplan.planner.models import PlannerInstruction

MATERIAL_KINDS = (
    Item.Kind.RESIN,
    Item.Kind.CONCENTRATE,
    Item.Kind.SPOOL_PART,
    Item.Kind.BOX,
    Item.Kind.DESICCANT,
)


def books_are_current(*, as_of: datetime) -> bool:
    """Say whether nothing was posted after the instant, so that balances may be read instead of summed. One query."""
    return not Movement.objects.filter(known_at__gt=as_of).exists()


def shelf_spools(*, as_of: datetime) -> dict[int, int]:
    """Return the spools on the shelf by SKU id, allocated or not. Two or three queries."""
    if books_are_current(as_of=as_of):
        return dict(ShelfStock.objects.values_list("sku_id", "on_shelf"))
    moved = _moved(as_of=as_of, kinds=frozenset({Place.Kind.SHELF.value})).filter(item__kind=Item.Kind.SKU)
    return {item: int(quantity) for item, quantity in moved.values_list("item_id").annotate(total=Sum("signed"))}


def store_items(*, as_of: datetime) -> tuple[StoreItem, ...]:
    """Return what the store holds of every material and part of the kinds that the books keep. Three queries.

    A kind of which nothing was ever in the store is not kept in the books; its items limit nothing.
    """
    held = _store_quantities(as_of=as_of)
    items = list(Item.objects.filter(kind__in=MATERIAL_KINDS).order_by("code"))
    kept = {item.kind for item in items if item.pk in held}
    return tuple(
        StoreItem(
            code=item.code,
            name=item.name,
            unit=item.get_unit_display(),
            on_hand=float(held.get(item.pk, Decimal(0))),
            lead_time_days=item.lead_time_days,
        )
        for item in items
        if item.kind in kept
    )


def committed_runs(*, as_of: datetime) -> tuple[CommittedRun, ...]:
    """Return the runs that were released and neither finished nor cancelled as of the instant, as planned then.

    Three queries.
    """
    runs = list(
        Run.objects.filter(released_known_at__lte=as_of)
        .filter(Q(finished_known_at__isnull=True) | Q(finished_known_at__gt=as_of))
        .filter(Q(cancelled_known_at__isnull=True) | Q(cancelled_known_at__gt=as_of))
        .select_related("filament")
        .order_by("id")
    )
    plans = run_plans(runs, as_of=as_of)
    spools: defaultdict[int, dict[str, int]] = defaultdict(dict)
    for plan in output_plans(Q(run_output__run__in=runs), as_of=as_of).values():
        spools[plan.run_output.run_id][plan.run_output.sku.item.code] = plan.planned
    return tuple(_committed(run, plans[run.pk], spools[run.pk], as_of=as_of) for run in runs)


def pipeline(*, as_of: datetime) -> tuple[Pipeline, ...]:
    """Return the spools that are wound and not yet shelved, with the hour at which they are expected. Three queries.

    Spools whose run says no hour (found in a count) are expected on the next packing morning.
    """
    there = [(run, sku, code, int(total)) for run, sku, code, total in _in_pipeline(as_of=as_of) if total > 0]
    plans = output_plans(Q(run_output__run_id__in={row[0] for row in there}), as_of=as_of).values()
    hours: dict[tuple[int | None, int], datetime] = {
        (plan.run_output.run_id, plan.run_output.sku_id): plan.shelf_at for plan in plans
    }
    return tuple(
        Pipeline(sku=code, quantity=total, shelf_at=hours.get((run, sku), as_of)) for run, sku, code, total in there
    )


def live_instructions(*, as_of: datetime, day: date) -> tuple[Instruction, ...]:
    """Return the planner's instructions that hold as of the instant. One query."""
    rows = (
        PlannerInstruction.objects.filter(created_at__lte=as_of)
        .filter(Q(withdrawn_at__isnull=True) | Q(withdrawn_at__gt=as_of))
        .filter(Q(last_day__isnull=True) | Q(last_day__gte=day))
        .select_related("filament", "line", "sku__item")
        .order_by("pk")
    )
    return tuple(
        Instruction(
            kind=InstructionKind(row.kind),
            filament=row.filament.code,
            line=row.line.code if row.line else None,
            sku=row.sku.item.code if row.sku else None,
            spools=row.spools,
            place=row.place,
            sizes=tuple(sorted(row.sizes.items())),
        )
        for row in rows
    )


def _committed(run: Run, plan: RunPlan, spools: dict[str, int], *, as_of: datetime) -> CommittedRun:
    is_started = run.started_known_at is not None and run.started_known_at <= as_of and run.started_at is not None
    start, end = plan.planned_start, plan.planned_end
    if is_started and run.started_at is not None:
        start, end = run.started_at, run.started_at + (plan.planned_end - plan.planned_start)
    return CommittedRun(
        code=run.code,
        filament=run.filament.code,
        line=plan.line.code,
        is_started=is_started,
        planned_start=start,
        planned_end=end,
        hopper=plan.hopper.code if plan.hopper else None,
        spools=spools,
        drying_from=plan.drying_from,
    )


def _in_pipeline(*, as_of: datetime) -> list[tuple[int | None, int, str, Decimal]]:
    """Run id, SKU id, SKU code and spools that are wound and not shelved."""
    keys = ("lot__run_id", "item_id", "item__code")
    if books_are_current(as_of=as_of):
        there = Balance.objects.filter(place__kind__in=PIPELINE, item__kind=Item.Kind.SKU, quantity__gt=0).order_by()
        return list(there.values_list(*keys).annotate(total=Sum("quantity")))
    moved = _moved(as_of=as_of, kinds=PIPELINE).filter(item__kind=Item.Kind.SKU)
    return list(moved.values_list(*keys).annotate(total=Sum("signed")))


def _store_quantities(*, as_of: datetime) -> dict[int, Decimal]:
    """Quantity in the store by item id, for items that were ever there."""
    if books_are_current(as_of=as_of):
        rows = Balance.objects.filter(place__kind=Place.Kind.RESIN_STORE).order_by()
        return dict(rows.values_list("item_id").annotate(total=Sum("quantity")))
    moved = _moved(as_of=as_of, kinds=frozenset({Place.Kind.RESIN_STORE.value}))
    return dict(moved.values_list("item_id").annotate(total=Sum("signed")))


def _moved(*, as_of: datetime, kinds: frozenset[str]):  # type: ignore[no-untyped-def]  # annotated queryset
    """Movement lines into (positive) and out of (negative) places of some kinds."""
    into = Q(to_place__kind__in=kinds) & ~Q(from_place__kind__in=kinds)
    out = Q(from_place__kind__in=kinds) & ~Q(to_place__kind__in=kinds)
    return (
        MovementLine.objects.filter(into | out, movement__known_at__lte=as_of)
        .annotate(signed=Case(When(into, then=F("quantity")), default=Value(0) - F("quantity")))
        .order_by()
    )
