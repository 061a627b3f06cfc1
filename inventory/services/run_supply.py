"""When the spools of a run are expected on the shelf, and the promises that hang on it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from inventory.models import PromiseChange, Run, RunOutput
from inventory.rules.calendar import PlantCalendar
from inventory.rules.clock import Clock
from inventory.selectors.plant import plant_calendar
from inventory.services.promises import repromise_run_output
from inventory.services.run_plans import note_output_plans

# Longest way from the end of a run to a ship day that the calendar is asked for: closures included.
LOOK_AHEAD = timedelta(days=60)


def calendar_from(instant: datetime) -> PlantCalendar:
    """The calendar of the days in which spools wound at an instant reach the shelf. Six queries."""
    day = instant.date()
    return plant_calendar(first=day - timedelta(days=1), last=day + LOOK_AHEAD)


def shelf_time(run: Run, *, wound_at: datetime, calendar: PlantCalendar) -> tuple[datetime, date]:
    """When spools of a run that are wound at an instant reach the shelf, and the first ship day that they serve."""
    shelf_at = calendar.shelf_at(wound_at, dry_h=float(run.filament.material.spool_dry_hours))
    return shelf_at, calendar.first_ship_day(shelf_at)


def move_shelf_day(
    *, run: Run, wound_at: datetime, clock: Clock, cause: str, sku_ids: Iterable[int] | None = None
) -> list[PromiseChange]:
    """Expect what is awaited of a run (or of some SKUs of it) as wound at an instant, and promise it anew."""
    shelf_at, shelf_day = shelf_time(run, wound_at=wound_at, calendar=calendar_from(wound_at))
    outputs = RunOutput.objects.filter(run=run, awaited__gt=0).order_by("id")
    if sku_ids is not None:
        outputs = outputs.filter(sku_id__in=list(sku_ids))
    return expect_on_shelf(outputs, shelf_at=shelf_at, shelf_day=shelf_day, clock=clock, cause=cause)


def expect_on_shelf(
    outputs: Iterable[RunOutput], *, shelf_at: datetime, shelf_day: date, clock: Clock, cause: str
) -> list[PromiseChange]:
    """Set the expected time of outputs where it moved; orders hear of it only where the ship day moved."""
    changes: list[PromiseChange] = []
    noted: list[RunOutput] = []
    for output in outputs:
        moved = output.shelf_day != shelf_day
        if output.shelf_at == shelf_at and not moved:
            continue
        output.shelf_at, output.shelf_day = shelf_at, shelf_day
        noted.append(output)
        if moved:
            changes += repromise_run_output(output, clock=clock, cause=cause)
        else:
            output.save(update_fields=["shelf_at"])
    note_output_plans(noted, clock=clock)
    return changes
