"""What the planner fixes by hand: pin, forbid, resize, and take it back. A new list takes it into account."""

from __future__ import annotations

from datetime import date
from zoneinfo import ZoneInfo

from django.contrib.auth.models import AbstractBaseUser
from django.db import IntegrityError, transaction

from inventory.models import Filament, Line, LineSpeed, Sku
from inventory.rules.clock import Clock
from inventory.selectors.plant import parameters
from stockplan.planner.errors import PlanningError
from stockplan.planner.models import PlannerInstruction

MOST_SPOOLS = 100_000


class InstructionError(PlanningError):
    """The instruction cannot be followed or contradicts one that is in force."""

    code = "instruction"


def pin_filament(
    *,
    filament_code: str,
    clock: Clock,
    line_code: str | None = None,
    last_day: date | None = None,
    note: str = "",
    by: AbstractBaseUser | None = None,
) -> PlannerInstruction:
    """Have a filament made, on a line if one is named, whatever it is worth.

    Raises
    ------
    InstructionError
        If filament or line do not exist, no line (or not that one) can make it, it is pinned or forbidden already, or
        the last day is over.
    """
    filament, line = _filament(filament_code), _line(line_code)
    speeds = LineSpeed.objects.filter(filament=filament, line__is_active=True)
    if not (speeds if line is None else speeds.filter(line=line)).exists():
        if line is None:
            raise InstructionError("No line can make {filament}.", filament=filament.code, pointer="/line")
        raise InstructionError(
            "Line {line} is not one that can make {filament}.", line=line.code, filament=filament.code, pointer="/line"
        )
    return _create(
        PlannerInstruction(kind="pin", filament=filament, line=line, last_day=last_day, note=note), clock=clock, by=by
    )


def forbid_filament(
    *,
    filament_code: str,
    clock: Clock,
    last_day: date | None = None,
    note: str = "",
    by: AbstractBaseUser | None = None,
) -> PlannerInstruction:
    """Keep a filament off the list.

    Raises
    ------
    InstructionError
        If the filament does not exist, is pinned or forbidden already, or the last day is over.
    """
    filament = _filament(filament_code)
    if PlannerInstruction.objects.filter(filament=filament, withdrawn_at__isnull=True, place__isnull=False).exists():
        raise InstructionError(
            "{filament} is pinned to a place on a line; withdraw that first.", filament=filament.code
        )
    instruction = PlannerInstruction(kind="forbid", filament=filament, last_day=last_day, note=note)
    return _create(instruction, clock=clock, by=by)


def resize_sku(
    *,
    sku_code: str,
    spools: int,
    clock: Clock,
    last_day: date | None = None,
    note: str = "",
    by: AbstractBaseUser | None = None,
) -> PlannerInstruction:
    """Have exactly so many spools of an SKU made on the next list; 0: none.

    Raises
    ------
    InstructionError
        If the SKU does not exist, the number is negative or absurd, the SKU has a size by hand already, or the last day
        is over.
    """
    if not 0 <= spools <= MOST_SPOOLS:
        raise InstructionError(
            "Spools must be 0 to {most}, got {spools}.", most=MOST_SPOOLS, spools=spools, pointer="/spools"
        )
    sku = Sku.objects.select_related("filament").filter(item__code=sku_code).first()
    if sku is None:
        raise InstructionError("There is no SKU {sku}.", sku=sku_code, pointer="/sku")
    instruction = PlannerInstruction(
        kind="resize", filament=sku.filament, sku=sku, spools=spools, last_day=last_day, note=note
    )
    return _create(instruction, clock=clock, by=by)


@transaction.atomic
def withdraw_instruction(*, instruction_id: int, clock: Clock) -> PlannerInstruction:
    """Take an instruction back.

    Raises
    ------
    InstructionError
        If there is none of that id in force.
    """
    row = PlannerInstruction.objects.select_for_update().filter(pk=instruction_id, withdrawn_at__isnull=True).first()
    if row is None:
        raise InstructionError(
            "There is no instruction {instruction_id} in force.", instruction_id=instruction_id, pointer="/id"
        )
    row.withdrawn_at = clock.known_at
    row.save(update_fields=["withdrawn_at"])
    return row


@transaction.atomic
def _create(instruction: PlannerInstruction, *, clock: Clock, by: AbstractBaseUser | None) -> PlannerInstruction:
    # Its last day is a day of the plant, as the lists read it.
    today = clock.known_at.astimezone(ZoneInfo(parameters().time_zone)).date()
    if instruction.last_day is not None and instruction.last_day < today:
        raise InstructionError(
            "{last_day} is over: the last day is {today} or later.",
            last_day=instruction.last_day,
            today=today,
            pointer="/last_day",
        )
    _withdraw_expired(instruction, today=today, clock=clock)
    instruction.created_at = clock.known_at
    instruction.created_by_id = None if by is None else by.pk
    try:
        with transaction.atomic():
            instruction.save()
    except IntegrityError as error:
        if not _clashes(instruction):
            raise
        what = instruction.sku.item.code if instruction.sku else instruction.filament.code
        raise InstructionError("{what} has an instruction in force already; withdraw it first.", what=what) from error
    return instruction


def _withdraw_expired(instruction: PlannerInstruction, *, today: date, clock: Clock) -> None:
    """End instructions for the same filament or SKU whose last day has passed, so that a new one may follow."""
    expired = PlannerInstruction.objects.filter(
        filament=instruction.filament, withdrawn_at__isnull=True, last_day__lt=today
    )
    expired.update(withdrawn_at=clock.known_at)


def _clashes(instruction: PlannerInstruction) -> bool:
    live = PlannerInstruction.objects.filter(withdrawn_at__isnull=True)
    if instruction.sku is not None:
        return live.filter(sku=instruction.sku, kind="resize").exists()
    return live.filter(filament=instruction.filament, place__isnull=True).exclude(kind="resize").exists()


def _filament(code: str) -> Filament:
    found = Filament.objects.filter(code=code).first()
    if found is None:
        raise InstructionError("There is no filament {code}.", code=code, pointer="/filament")
    return found


def _line(code: str | None) -> Line | None:
    if code is None:
        return None
    found = Line.objects.filter(code=code, is_active=True).first()
    if found is None:
        raise InstructionError("There is no line {code} in use.", code=code, pointer="/line")
    return found
