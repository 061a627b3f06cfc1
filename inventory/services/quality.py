"""Measurements of a run, and the hold that follows by itself from one that is outside what is allowed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.contrib.auth.models import AbstractBaseUser

from inventory.errors import ConflictError, InvalidInputError
from inventory.models import DiameterReading, DiameterReport, Item, Lot, Run, SpoolWeighing
from inventory.rules.clock import Clock
from inventory.rules.diameter import DiameterLimits, DiameterPair, axes_of, reading_fault, readings_digest
from inventory.rules.net_mass import LEAST_G, MOST_G, NetMassCheck, check_net_mass
from inventory.rules.texts import text
from inventory.services.allocations import lock_supply
from inventory.services.holds import hold_lot
from inventory.services.ledger import MAX_DOCUMENT_LENGTH
from inventory.services.lookup import lot_by_code
from inventory.services.run_records import locked_run
from inventory.services.texts import check_length
from inventory.services.transactions import in_one_transaction

MOST_READINGS = 20_000
# Of a file whose readings tell it from any other; a gauge that reports one by one may well read the same again.
LEAST_OF_A_FILE = 10
MOST_GROSS_G = Decimal(100_000)


class ReadingsKnownError(ConflictError):
    """The gauge's readings are in the books already; counted twice they would narrow the spread."""

    code = "readings_known"


@dataclass(frozen=True)
class Judged:
    """What became of a measurement: codes of the lots that it put on hold."""

    held_lots: tuple[str, ...]


@in_one_transaction
def post_diameters(
    *,
    run_code: str,
    readings: Sequence[DiameterPair],
    source: DiameterReport.Source,
    clock: Clock,
    document: str = "",
    posted_by: AbstractBaseUser | None = None,
) -> Judged:
    """Write readings of a run in the order of measuring, and hold its lots if one of them is outside the limits.

    Each report is judged by itself, by the tolerance of its day: lots that were released after an earlier report
    stay released while new readings are inside. Before the finish there are no lots; `finish_run` holds them then.
    A hold happens when the books learn of the reading. A gauge's file has no times: the same ten readings or more in
    the same order are the same file, whatever its name.

    Raises
    ------
    NotFoundError, RunStateError
        If the run does not exist, has not started or was cancelled.
    InvalidInputError
        If there are no readings or too many, one is not a diameter, or they are from before the start.
    ReadingsKnownError
        If a report of the run's gauge has the same readings.
    """
    run = locked_run(
        run_code,
        states=[Run.State.STARTED, Run.State.FINISHED],
        only=text("only a started or finished run can be measured"),
        clock=clock,
    )
    _check_readings(readings, document=document)
    is_file = source == DiameterReport.Source.GAUGE and len(readings) >= LEAST_OF_A_FILE
    gauge_digest = readings_digest(readings) if is_file else None
    _check_is_new(run, gauge_digest)
    diameter = run.filament.diameter
    limits = DiameterLimits(nominal_mm=diameter.nominal_mm, tolerance_mm=diameter.tolerance_mm)
    report = DiameterReport.objects.create(
        run=run,
        source=source,
        lower_mm=limits.lower_mm,
        upper_mm=limits.upper_mm,
        outside_readings=int(limits.outside(*axes_of(readings)).sum()),
        document=document,
        gauge_digest=gauge_digest,
        occurred_at=clock.occurred_at,
        known_at=clock.known_at,
        posted_by_id=None if posted_by is None else posted_by.pk,
    )
    DiameterReading.objects.bulk_create(
        (DiameterReading(report=report, number=number, x_mm=x, y_mm=y) for number, (x, y) in enumerate(readings, 1)),
        batch_size=1_000,
    )
    if report.outside_readings == 0:
        return Judged(held_lots=())
    return Judged(held_lots=_hold_lots_of(run, report, clock=clock, posted_by=posted_by))


def hold_finished_run(*, run: Run, clock: Clock, posted_by: AbstractBaseUser | None) -> tuple[str, ...]:
    """Hold the lots of a run that has just finished, if a reading taken while it ran was outside. One query else."""
    report = DiameterReport.objects.filter(run=run, outside_readings__gt=0).order_by("id").first()
    return () if report is None else _hold_lots_of(run, report, clock=clock, posted_by=posted_by)


@in_one_transaction
def post_weighings(
    *, lot_code: str, gross_g: Sequence[Decimal], clock: Clock, posted_by: AbstractBaseUser | None = None
) -> NetMassCheck:
    """Write what spools of a lot weigh, and hold the lot if their net mass does not pass the check.

    Raises
    ------
    NotFoundError
        If the lot does not exist.
    InvalidInputError
        If it is no lot of spools, nothing was weighed, or a spool is not heavier than an empty one.
    """
    lot = lot_by_code(lot_code)
    if lot.item.kind != Item.Kind.SKU:
        raise InvalidInputError(
            "Lot {lot} is of {item}; only spools are weighed.",
            lot=lot_code,
            item=lot.item.code,
            pointer="/lot",
        )
    size = lot.item.sku.spool_size
    if not LEAST_G <= size.net_g <= MOST_G:
        raise InvalidInputError(
            "The net mass check covers {least} to {most} g; {item} has {net_g} g.",
            least=LEAST_G,
            most=MOST_G,
            item=lot.item.code,
            net_g=size.net_g,
            pointer="/lot",
        )
    _check_masses(gross_g, tare_g=size.tare_g)
    SpoolWeighing.objects.bulk_create(
        SpoolWeighing(
            lot=lot,
            gross_g=gross,
            tare_g=size.tare_g,
            occurred_at=clock.occurred_at,
            known_at=clock.known_at,
            posted_by_id=None if posted_by is None else posted_by.pk,
        )
        for gross in gross_g
    )
    check = check_net_mass([gross - size.tare_g for gross in gross_g], nominal_g=size.net_g)
    if not check.passes:
        _hold([lot], reason=_mass_reason(check), clock=clock, posted_by=posted_by)
    return check


def _check_readings(readings: Sequence[DiameterPair], *, document: str) -> None:
    if not 0 < len(readings) <= MOST_READINGS:
        raise InvalidInputError(
            "{n} readings: 1 to {most} are allowed.", n=len(readings), most=MOST_READINGS, pointer="/readings"
        )
    check_length("document", document, most=MAX_DOCUMENT_LENGTH)
    for number, (x, y) in enumerate(readings):
        for axis, value in (("x_mm", x), ("y_mm", y)):
            if value is not None and (fault := reading_fault(value)):
                raise InvalidInputError(
                    "Reading {number}: {axis} {fault}",
                    number=number + 1,
                    axis=axis,
                    fault=fault,
                    pointer=f"/readings/{number}/{axis}",
                )


def _check_is_new(run: Run, gauge_digest: str | None) -> None:
    if gauge_digest is None:
        return
    known = DiameterReport.objects.filter(run=run, gauge_digest=gauge_digest).first()
    if known is not None:
        raise ReadingsKnownError(
            "These readings of run {run} are in the books already: report {report}, posted {known_at}.",
            run=run.code,
            report=text("{report} from {file}", report=known.pk, file=known.document) if known.document else known.pk,
            known_at=known.known_at.isoformat(timespec="seconds"),
        )


def _check_masses(gross_g: Sequence[Decimal], *, tare_g: int) -> None:
    if not gross_g:
        raise InvalidInputError("At least one spool must be weighed.", pointer="/gross_g")
    for number, gross in enumerate(gross_g):
        if not (gross.is_finite() and tare_g < gross <= MOST_GROSS_G and gross == round(gross, 1)):
            raise InvalidInputError(
                "Spool {number}: {gross} g must be above the empty spool's {tare_g} g, at most {most} g, in tenths "
                "of a gram.",
                number=number + 1,
                gross=gross,
                tare_g=tare_g,
                most=MOST_GROSS_G,
                pointer=f"/gross_g/{number}",
            )


def _hold_lots_of(
    run: Run, report: DiameterReport, *, clock: Clock, posted_by: AbstractBaseUser | None
) -> tuple[str, ...]:
    reason = (
        f"diameter: {report.outside_readings} reading(s) of report {report.pk} outside "
        f"{report.lower_mm:.3f} to {report.upper_mm:.3f} mm"
    )
    lots = list(Lot.objects.filter(run=run).order_by("item_id"))
    return _hold(lots, reason=reason, clock=clock, posted_by=posted_by)


def _hold(lots: Sequence[Lot], *, reason: str, clock: Clock, posted_by: AbstractBaseUser | None) -> tuple[str, ...]:
    """Hold those of the lots that are not held; all their SKUs are locked first, in the order of ledger.py."""
    lock_supply(sku_ids=[lot.item_id for lot in lots], clock=clock)
    free = list(Lot.objects.filter(pk__in=[lot.pk for lot in lots], is_held=False).order_by("item_id"))
    # When the spools were measured some of them may not have been wound; the hold is of now.
    now = Clock.at(clock.known_at)
    for lot in free:
        hold_lot(lot_code=lot.code, clock=now, reason=reason, posted_by=posted_by)
    return tuple(lot.code for lot in free)


def _mass_reason(check: NetMassCheck) -> str:
    return (
        f"net mass: mean {check.mean_net_g:.1f} g of {check.weighed} spool(s), nominal {check.nominal_g} g; "
        f"{check.short} short by more than {check.tolerable_error_g} g"
    )
