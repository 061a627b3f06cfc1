"""The finish of a run: what it used, what it wound, and the mass check between the two."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from django.contrib.auth.models import AbstractBaseUser

from inventory.errors import InvalidInputError
from inventory.models import Item, Lot, Movement, Place, PromiseChange, Run, RunOutput, Sku
from inventory.rules.clock import Clock
from inventory.rules.conversion import MeltBill, WoundSpools, is_mass_balanced, melt_bill, spools_kg
from inventory.rules.flows import plain
from inventory.rules.texts import text
from inventory.selectors.plant import parameters
from inventory.services.allocations import lock_supply
from inventory.services.drawing import Drawn, draw_from_store
from inventory.services.ledger import LineDraft, place, post_movement
from inventory.services.promises import repromise_run_output
from inventory.services.quality import hold_finished_run
from inventory.services.run_plans import note_output_plans
from inventory.services.run_records import locked_run, skus_of_run
from inventory.services.run_stops import end_open_stop
from inventory.services.run_supply import calendar_from, shelf_time
from inventory.services.transactions import in_one_transaction

MOST_MINUTES = Decimal(100_000)
MOST_KG = Decimal(100_000)


@dataclass(frozen=True)
class RunFinished:
    """A finished run: masses, what the books had too little of (by item code), its lots, and promises that moved."""

    run: Run
    mass_in_kg: Decimal
    mass_out_kg: Decimal
    is_mass_flagged: bool
    shortfalls: Mapping[str, Decimal]
    lot_codes: tuple[str, ...]
    promise_changes: tuple[PromiseChange, ...]


@dataclass(frozen=True)
class _Report:
    """What the floor reports of a run."""

    good: Mapping[str, int]
    scrap: Mapping[str, int]
    skus: Mapping[str, Sku]

    def mass_kg(self, spools: Mapping[str, int]) -> Decimal:
        sizes = {code: self.skus[code].spool_size for code in spools}
        return spools_kg(WoundSpools(spools[code], size.net_g, size.give_away_g) for code, size in sizes.items())


@in_one_transaction
def finish_run(
    *,
    run_code: str,
    good: Mapping[str, int],
    scrap: Mapping[str, int],
    real_minutes: Decimal,
    purge_kg: Decimal,
    clock: Clock,
    resin_kg: Decimal | None = None,
    concentrate_kg: Decimal | None = None,
    posted_by: AbstractBaseUser | None = None,
) -> RunFinished:
    """Finish a run: draw its materials by lot, book its spools as new lots, check the mass, promise anew.

    What the floor reports is true. A SKU that was not planned but wound is accepted; where the books hold too little
    material the rest comes from the count difference and the run is flagged. A stop that is still open ends.
    `resin_kg` and `concentrate_kg` are what was weighed out; without them the run is taken to have used what came out
    of it, and its mass check says nothing.

    Raises
    ------
    NotFoundError, RunStateError
        If the run or a SKU do not exist, or the run is not started.
    InvalidInputError
        If a SKU is of another filament, or a number is negative, absurd or before the start.
    """
    run = locked_run(run_code, states=[Run.State.STARTED], only=text("only a started run can be finished"), clock=clock)
    end_open_stop(run, clock=clock)
    report = _report(run, good=good, scrap=scrap)
    _check_masses(run, purge_kg=purge_kg, resin_kg=resin_kg, concentrate_kg=concentrate_kg)
    if not 0 < real_minutes <= MOST_MINUTES:
        raise InvalidInputError(
            "Real minutes {real_minutes} must be above 0, at most {most}.",
            real_minutes=real_minutes,
            most=MOST_MINUTES,
            pointer="/real_minutes",
        )
    outputs = _outputs(run, report, clock=clock)
    lock_supply(sku_ids=outputs, clock=clock)
    bill = melt_bill(
        good_kg=report.mass_kg(good),
        scrap_kg=report.mass_kg(scrap),
        purge_kg=purge_kg,
        let_down_share=run.filament.colour.let_down_share,
    )
    used = MeltBill(
        resin_kg=bill.resin_kg if resin_kg is None else resin_kg,
        concentrate_kg=bill.concentrate_kg if concentrate_kg is None else concentrate_kg,
    )
    drawn = _consume(run, report, used, clock=clock, posted_by=posted_by)
    lots = _wind(run, report, clock=clock, posted_by=posted_by)
    run.purge_kg, run.real_minutes = purge_kg, real_minutes
    _close(run, drawn, in_kg=used.mass_kg, out_kg=bill.mass_kg, clock=clock)
    changes = _await_good(run, report, outputs, clock=clock)
    hold_finished_run(run=run, clock=clock, posted_by=posted_by)
    return RunFinished(
        run=run,
        mass_in_kg=run.mass_in_kg or Decimal(0),
        mass_out_kg=run.mass_out_kg or Decimal(0),
        is_mass_flagged=run.is_mass_flagged,
        shortfalls={item.code: missing for item, missing in drawn.shortfalls.items()},
        lot_codes=tuple(lots),
        promise_changes=tuple(changes),
    )


def _report(run: Run, *, good: Mapping[str, int], scrap: Mapping[str, int]) -> _Report:
    skus = skus_of_run(run.filament, good, pointer="/good") | skus_of_run(run.filament, scrap, pointer="/scrap")
    return _Report(good=good, scrap=scrap, skus=skus)


def _check_masses(run: Run, **masses_kg: Decimal | None) -> None:
    for name, mass_kg in masses_kg.items():
        if mass_kg is not None and (not 0 <= mass_kg <= MOST_KG or mass_kg != round(mass_kg, 3)):
            raise InvalidInputError(
                "{name} {mass_kg} must be 0 to {most}, in whole grams.",
                name=name,
                mass_kg=plain(mass_kg),
                most=MOST_KG,
                pointer=f"/{name}",
            )
    if masses_kg["concentrate_kg"] and run.filament.colour.concentrate_item is None:
        raise InvalidInputError(
            "{filament} has no concentrate; {concentrate_kg} kg were reported.",
            filament=run.filament.code,
            concentrate_kg=plain(masses_kg["concentrate_kg"]),
            pointer="/concentrate_kg",
        )


def _outputs(run: Run, report: _Report, *, clock: Clock) -> dict[int, RunOutput]:
    """The outputs of the run by SKU; those that nobody planned are added with nothing awaited yet."""
    known = set(RunOutput.objects.filter(run=run).values_list("sku_id", flat=True))
    shelf_at, shelf_day = shelf_time(run, wound_at=clock.occurred_at, calendar=calendar_from(clock.occurred_at))
    RunOutput.objects.bulk_create(
        RunOutput(run=run, sku=sku, planned=0, awaited=0, shelf_at=shelf_at, shelf_day=shelf_day)
        for sku in report.skus.values()
        if sku.pk not in known
    )
    outputs = RunOutput.objects.filter(run=run).select_related("sku__item").order_by("sku_id")
    for output in outputs:
        output.shelf_at, output.shelf_day = shelf_at, shelf_day
    return {output.sku_id: output for output in outputs}


def _consume(run: Run, report: _Report, used: MeltBill, *, clock: Clock, posted_by: AbstractBaseUser | None) -> Drawn:
    colour, material = run.filament.colour, run.filament.material
    needs: dict[Item, Decimal] = {material.resin_item: used.resin_kg}
    if colour.concentrate_item is not None:
        needs[colour.concentrate_item] = used.concentrate_kg
    for code, sku in report.skus.items():
        wound = report.good.get(code, 0) + report.scrap.get(code, 0)
        part = sku.spool_size.spool_part
        needs[part] = needs.get(part, Decimal(0)) + wound
    drawn = draw_from_store(needs, clock=clock)
    if drawn.lines:
        post_movement(
            kind=Movement.Kind.RUN_CONSUMPTION,
            lines=drawn.lines,
            clock=clock,
            posted_by=posted_by,
            document=run.code,
            run=run,
        )
    return drawn


def _wind(run: Run, report: _Report, *, clock: Clock, posted_by: AbstractBaseUser | None) -> list[str]:
    """Book the spools: one lot per SKU, good ones wait for the oven, scrap is scrap. Returns the lot codes."""
    wound = [code for code in sorted(report.skus) if report.good.get(code, 0) + report.scrap.get(code, 0) > 0]
    if not wound:
        return []
    lots = Lot.objects.bulk_create(
        Lot(code=f"{run.code}-{code}", item=report.skus[code].item, run=run, created_at=clock.occurred_at)
        for code in wound
    )
    conversion = place(Place.Kind.CONVERSION)
    targets = ((report.good, place(Place.Kind.WOUND)), (report.scrap, place(Place.Kind.SCRAP)))
    lines = [
        LineDraft(lot.item_id, lot.pk, Decimal(spools[code]), conversion, target)
        for spools, target in targets
        for code, lot in zip(wound, lots, strict=True)
        if spools.get(code, 0) > 0
    ]
    post_movement(
        kind=Movement.Kind.RUN_OUTPUT, lines=lines, clock=clock, posted_by=posted_by, document=run.code, run=run
    )
    return [lot.code for lot in lots]


def _close(run: Run, drawn: Drawn, *, in_kg: Decimal, out_kg: Decimal, clock: Clock) -> None:
    """Set the outcome of the run. Mass in is what the store really gave, so a shortfall shows in the mass check."""
    short_kg = sum((missing for item, missing in drawn.shortfalls.items() if item.unit == Item.Unit.KG), Decimal(0))
    run.mass_in_kg, run.mass_out_kg = in_kg - short_kg, out_kg
    is_balanced = is_mass_balanced(
        in_kg=run.mass_in_kg, out_kg=run.mass_out_kg, tolerance_share=parameters().mass_tolerance_share
    )
    run.is_mass_flagged = short_kg > 0 or not is_balanced
    run.state = Run.State.FINISHED
    run.finished_at, run.finished_known_at = clock.occurred_at, clock.known_at
    run.save()


def _await_good(run: Run, report: _Report, outputs: Mapping[int, RunOutput], *, clock: Clock) -> list[PromiseChange]:
    """From now on the good spools are awaited, no longer the planned ones; waiting orders are served of a surplus."""
    changes: list[PromiseChange] = []
    for output in outputs.values():
        code = output.sku.item.code
        output.good, output.scrap = report.good.get(code, 0), report.scrap.get(code, 0)
        output.awaited = output.good
        changes += repromise_run_output(output, clock=clock, cause=f"run {run.code} finished")
    note_output_plans(outputs.values(), clock=clock)
    return changes
