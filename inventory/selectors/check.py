"""The books checked against themselves: every derived figure is computed again from the facts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import F, Min, Sum

from inventory.models import (
    Allocation,
    Balance,
    Movement,
    MovementLine,
    Order,
    OrderLine,
    OrderLineChange,
    Place,
    Run,
    RunOutput,
    RunOutputPlan,
    RunPlan,
    ShelfStock,
    ShipmentLine,
)
from inventory.selectors.awaited import awaited_spools
from inventory.selectors.ledger import LedgerRead, read_ledger
from inventory.selectors.run_mass import run_mass_faults


@dataclass(frozen=True)
class Fault:
    """One figure that is not what the facts say.

    Attributes
    ----------
    rule : str
        Name of the rule that is broken.
    subject : str
        What it is about: place and lot, SKU, run or order line.
    message : str
        Both figures.
    """

    rule: str
    subject: str
    message: str

    def __str__(self) -> str:
        return f"{self.rule}: {self.subject}: {self.message}"


def check_books() -> list[Fault]:
    """Return every fault of the books; an empty list says that they are right.

    About thirty queries, whatever their size; the ledger is read twice, once by each clock.
    """
    ledger = read_ledger(clock="occurred_at")
    live = _live_allocations()
    return [
        *_balance_faults(ledger),
        *_past_faults(ledger, clock="as it happened"),
        *_past_faults(read_ledger(clock="known_at"), clock="as it became known"),
        *_lot_faults(),
        *_shelf_faults(live),
        *_output_faults(live),
        *_plan_faults(),
        *_order_line_faults(),
        *_allocation_faults(),
        *_shipment_faults(),
        *(Fault("run_mass", code, message) for code, message in run_mass_faults()),
    ]


def _balance_faults(ledger: LedgerRead) -> Iterator[Fault]:
    rows = {(row.place_id, row.lot_id): row for row in Balance.objects.select_related("place", "lot")}
    for key, row in rows.items():
        summed = ledger.sums.get(key, Decimal(0))
        subject = f"{row.place.code}, lot {row.lot.code}"
        if row.quantity != summed:
            yield Fault("balance_is_ledger_sum", subject, f"balance {row.quantity:f}, ledger {summed:f}")
        if row.item_id != row.lot.item_id or row.is_physical != row.place.is_physical:
            yield Fault("balance_copies_its_place_and_lot", subject, "item or kind of place differ")
    for key, summed in ledger.sums.items():
        if key not in rows:
            yield Fault("balance_is_ledger_sum", f"place {key[0]}, lot {key[1]}", f"no balance, ledger {summed:f}")


def _past_faults(ledger: LedgerRead, *, clock: str) -> Iterator[Fault]:
    for below in ledger.below_zero:
        subject = f"place {below.place_id}, lot {below.lot_id}"
        when = f"{below.quantity:f} at {below.instant.isoformat()}, {clock}"
        yield Fault("physical_place_never_negative", subject, when)


def _lot_faults() -> Iterator[Fault]:
    for line in MovementLine.objects.exclude(item=F("lot__item")).select_related("lot"):
        yield Fault("line_is_of_its_lots_item", f"movement {line.movement_id}", f"lot {line.lot.code}")
    held = Balance.objects.filter(lot__is_held=True, place__kind=Place.Kind.SHELF, quantity__gt=0)
    for row in held.select_related("lot"):
        yield Fault("held_lot_not_on_shelf", f"lot {row.lot.code}", f"{row.quantity:f} on the shelf")


def _live_allocations() -> Mapping[tuple[int, int | None], int]:
    """Live allocated spools by SKU and run output (None: the shelf)."""
    rows = Allocation.objects.filter(end="").values_list("order_line__sku_id", "run_output_id").order_by()
    return {(sku_id, output_id): spools for sku_id, output_id, spools in rows.annotate(Sum("quantity"))}


def _shelf_faults(live: Mapping[tuple[int, int | None], int]) -> Iterator[Fault]:
    rows = {row.sku_id: row for row in ShelfStock.objects.all()}
    balances = Balance.objects.filter(place__kind=Place.Kind.SHELF).values_list("item_id").order_by()
    on_shelf = dict(balances.annotate(Sum("quantity")))
    promised = {sku_id: spools for (sku_id, output_id), spools in live.items() if output_id is None}
    for sku_id in sorted({*rows, *on_shelf, *promised}):
        row = rows.get(sku_id)
        have = (0, 0) if row is None else (row.on_shelf, row.allocated)
        want = (on_shelf.get(sku_id, Decimal(0)), promised.get(sku_id, 0))
        if have[0] != want[0]:
            yield Fault("shelf_is_its_balances", f"SKU {sku_id}", f"on shelf {have[0]}, balances {want[0]:f}")
        if have[1] != want[1]:
            yield Fault("shelf_allocated_is_live", f"SKU {sku_id}", f"allocated {have[1]}, live {want[1]}")
        if not 0 <= have[1] <= have[0]:
            yield Fault("shelf_not_allocated_twice", f"SKU {sku_id}", f"allocated {have[1]} of {have[0]}")


def _output_faults(live: Mapping[tuple[int, int | None], int]) -> Iterator[Fault]:
    right = awaited_spools()
    for output in RunOutput.objects.select_related("run", "sku__item"):
        subject = f"run {output.run.code}, {output.sku.item.code}"
        promised = live.get((output.sku_id, output.pk), 0)
        if output.allocated != promised:
            yield Fault("output_allocated_is_live", subject, f"allocated {output.allocated}, live {promised}")
        if output.allocated > output.awaited:
            yield Fault("output_not_allocated_twice", subject, f"allocated {output.allocated} of {output.awaited}")
        if output.awaited != right[output.pk]:
            yield Fault(
                "output_awaited_is_pipeline", subject, f"awaited {output.awaited}, should be {right[output.pk]}"
            )


def _plan_faults() -> Iterator[Fault]:
    """What was noted last of a plan is the plan that stands, of runs and of their outputs."""
    planned = (
        "line_id", "planned_start", "planned_end", "hopper_id", "drying_from",
        "changeover_from_id", "changeover_min", "planned_purge_kg",
    )  # fmt: skip
    noted_runs = {row.run_id: row for row in RunPlan.objects.order_by("id")}
    for run in Run.objects.order_by("id"):
        if not _is_same(noted_runs.get(run.pk), run, fields=planned):
            yield Fault("plan_is_noted", f"run {run.code}", "its plan is not the one that was noted last")
    noted_outputs = {row.run_output_id: row for row in RunOutputPlan.objects.order_by("id")}
    for output in RunOutput.objects.select_related("run", "sku__item").order_by("id"):
        if not _is_same(noted_outputs.get(output.pk), output, fields=("planned", "shelf_at", "shelf_day")):
            subject = f"run {output.run.code}, {output.sku.item.code}"
            yield Fault("plan_is_noted", subject, "spools or day are not those that were noted last")


def _is_same(noted: object | None, stands: object, *, fields: Sequence[str]) -> bool:
    return noted is not None and all(getattr(noted, name) == getattr(stands, name) for name in fields)


def _order_line_faults() -> Iterator[Fault]:
    ordered = _sums(OrderLineChange.objects.values_list("order_line_id").order_by().annotate(Sum("delta")))
    shipped = _sums(ShipmentLine.objects.values_list("order_line_id").order_by().annotate(Sum("quantity")))
    live = Allocation.objects.filter(end="").values_list("order_line_id").order_by().annotate(Sum("quantity"))
    allocated = _sums(live)
    lines = OrderLine.objects.values_list("pk", "quantity", "shipped", "order__is_history", "order__state")
    for pk, quantity, sent, is_history, state in lines.order_by("pk").iterator():
        subject = f"order line {pk}"
        if quantity != ordered.get(pk, 0):
            yield Fault("line_is_its_changes", subject, f"quantity {quantity}, changes {ordered.get(pk, 0)}")
        if not is_history and sent != shipped.get(pk, 0):
            yield Fault("line_shipped_is_its_shipments", subject, f"shipped {sent}, shipments {shipped.get(pk, 0)}")
        if sent + allocated.get(pk, 0) > quantity:
            yield Fault("line_not_allocated_twice", subject, f"{allocated.get(pk, 0)} + {sent} of {quantity}")
        if state != Order.State.OPEN and allocated.get(pk, 0):
            yield Fault("closed_order_holds_nothing", subject, f"allocated {allocated[pk]}")


def _sums(rows: object) -> dict[int, int]:
    return dict(rows)  # type: ignore[call-overload, no-any-return]  # pairs of a values_list query


def _allocation_faults() -> Iterator[Fault]:
    wrong = Allocation.objects.filter(run_output__isnull=False).exclude(run_output__sku=F("order_line__sku"))
    for allocation in wrong:
        yield Fault("allocation_is_of_its_lines_sku", f"allocation {allocation.pk}", "the run winds another SKU")


def _shipment_faults() -> Iterator[Fault]:
    """Shipments from before the opening of the books have no movements; all others have the same spools."""
    opened_at = Movement.objects.aggregate(first=Min("occurred_at"))["first"]
    for line in ShipmentLine.objects.annotate(moved=Sum("movement_lines__quantity")).select_related("shipment"):
        is_before = line.moved is None and (opened_at is None or line.shipment.shipped_at <= opened_at)
        if not is_before and line.moved != line.quantity:
            yield Fault("shipment_is_its_movement", f"shipment line {line.pk}", f"{line.quantity}, moved {line.moved}")
    sent = MovementLine.objects.filter(shipment_line__isnull=False)
    for moved in sent.exclude(item_id=F("shipment_line__order_line__sku_id")):
        yield Fault("shipment_is_its_movement", f"movement {moved.movement_id}", "another item than was ordered")
