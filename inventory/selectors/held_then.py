"""What lines and hoppers held at a past instant: what the first run that started since then found in them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from inventory.models import Run


@dataclass(frozen=True)
class HopperThen:
    """What a hopper held, and since when that dried."""

    material_code: str | None
    dried_since: datetime | None


@dataclass(frozen=True)
class HeldThen:
    """What those lines and hoppers held that have changed since, by id; the others hold what they hold now."""

    filament_of_line: dict[int, str | None]
    hoppers: dict[int, HopperThen]


def held_then(*, as_of: datetime) -> HeldThen:
    """Return what the books knew at an instant of lines and hoppers that were used since. One query."""
    since = Run.objects.filter(started_known_at__gt=as_of).select_related("line_held", "hopper_held")
    then = HeldThen({}, {})
    # The earliest start since then comes last, and stays.
    for run in since.order_by("-started_known_at", "-id"):
        then.filament_of_line[run.line_id] = run.line_held.code if run.line_held else None
        if run.hopper_id is not None:
            material = run.hopper_held.code if run.hopper_held else None
            then.hoppers[run.hopper_id] = HopperThen(material, run.hopper_dried_since)
    return then
