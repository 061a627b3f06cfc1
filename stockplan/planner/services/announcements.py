"""Announced demand: what the planner knows beforehand, or knows now of past days, and takes back if it was wrong."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from django.contrib.auth.models import AbstractBaseUser
from django.db import transaction

from inventory.models import Filament, Material
from inventory.rules.clock import Clock
from stockplan.planner.errors import PlanningError
from stockplan.planner.models import AnnouncedDemand
from stockplan.planner.models.instructions import LEAST_FACTOR, MOST_FACTOR

MOST_DAYS = 366


class AnnouncementError(PlanningError):
    """The announcement makes no sense, or is not in force."""

    code = "announcement"


def announce_demand(
    *,
    name: str,
    first_day: date,
    last_day: date,
    factor: Decimal,
    clock: Clock,
    material_code: str | None = None,
    filament_code: str | None = None,
    by: AbstractBaseUser | None = None,
) -> AnnouncedDemand:
    """Say that demand due on these days is so many times the usual, of a material, a filament, or everything.

    Past days count as well: demand that a promotion brought does not raise the level then.

    Raises
    ------
    AnnouncementError
        If the name is empty, the days are not in order or more than a year, the factor is outside 0.05 to 20, both
        scopes are given, or one does not exist.
    """
    if not name.strip():
        raise AnnouncementError("Say what it is.", pointer="/name")
    if last_day < first_day:
        raise AnnouncementError(
            "It ends on {last_day}, before it begins on {first_day}.",
            last_day=last_day,
            first_day=first_day,
            pointer="/last_day",
        )
    if (last_day - first_day).days >= MOST_DAYS:
        raise AnnouncementError("It may last a year at most; longer is the usual demand.", pointer="/last_day")
    if not LEAST_FACTOR <= factor <= MOST_FACTOR:
        raise AnnouncementError(
            "The factor must be {least} to {most}, got {factor}.",
            least=LEAST_FACTOR,
            most=MOST_FACTOR,
            factor=factor,
            pointer="/factor",
        )
    if material_code and filament_code:
        raise AnnouncementError("It is about a material or a filament, not both.", pointer="/filament")
    return AnnouncedDemand.objects.create(
        name=name.strip(),
        first_day=first_day,
        last_day=last_day,
        factor=factor,
        material=_material(material_code),
        filament=_filament(filament_code),
        created_at=clock.known_at,
        created_by_id=None if by is None else by.pk,
    )


@transaction.atomic
def withdraw_announcement(*, announcement_id: int, clock: Clock) -> AnnouncedDemand:
    """Take an announcement back: it was wrong. If it is over, its days count as usual demand from then on.

    Raises
    ------
    AnnouncementError
        If there is none of that id in force.
    """
    live = AnnouncedDemand.objects.select_for_update().filter(withdrawn_at__isnull=True)
    row = live.filter(pk=announcement_id).first()
    if row is None:
        raise AnnouncementError(
            "There is no announcement {announcement_id} in force.", announcement_id=announcement_id, pointer="/id"
        )
    row.withdrawn_at = clock.known_at
    row.save(update_fields=["withdrawn_at"])
    return row


def _material(code: str | None) -> Material | None:
    found = Material.objects.filter(code=code).first() if code else None
    if code and found is None:
        raise AnnouncementError("There is no material {code}.", code=code, pointer="/material")
    return found


def _filament(code: str | None) -> Filament | None:
    found = Filament.objects.filter(code=code).first() if code else None
    if code and found is None:
        raise AnnouncementError("There is no filament {code}.", code=code, pointer="/filament")
    return found
