"""The resin of a run in its hopper: dried for its hours, and not kept longer than it keeps."""

from __future__ import annotations

from datetime import datetime, timedelta

from inventory.errors import ConflictError, InvalidInputError
from inventory.models import Run
from inventory.rules.flows import plain


class ResinNotDryError(ConflictError):
    """The resin has not been dried for its hours."""

    code = "resin_not_dry"


class ResinKeptTooLongError(ConflictError):
    """The resin was dry, and has waited in its hopper longer than it keeps."""

    code = "resin_kept_too_long"


def note_drying(run: Run, *, drying_from: datetime | None, start: datetime) -> None:
    """Note when the resin of a run that starts really went into its hopper, and refuse resin that is not fit.

    Hours are the plant's own data, from the resin supplier's data sheet. Through a hopper that is refilled while it
    feeds the line fresh resin comes all the time: there is no keeping to speak of.

    Raises
    ------
    InvalidInputError
        If the resin would have gone in after the start.
    ResinNotDryError, ResinKeptTooLongError
        If its drying has not lasted its hours, or ended too long ago.
    """
    if drying_from is not None:
        if drying_from > start:
            raise InvalidInputError(
                "drying_from {drying_from} is after the start at {start}.",
                drying_from=drying_from,
                start=start,
                pointer="/drying_from",
            )
        run.drying_from = drying_from
    if run.drying_from is not None:
        _check_dry(run, since=run.drying_from, start=start)


def fill_hopper(run: Run) -> None:
    """Note what the hopper of a run that starts holds, and in the run what it held before."""
    if run.hopper is not None:
        run.hopper_held_id, run.hopper_dried_since = run.hopper.holds_material_id, run.hopper.dried_since
        run.hopper.holds_material, run.hopper.dried_since = run.filament.material, run.drying_from
        run.hopper.save(update_fields=["holds_material", "dried_since"])


def _check_dry(run: Run, *, since: datetime, start: datetime) -> None:
    material = run.filament.material
    dry_at = since + timedelta(hours=float(material.resin_dry_hours))
    if start < dry_at:
        raise ResinNotDryError(
            "Run {run}: its resin dries since {since} and needs {resin_dry_hours} h; it cannot start before {dry_at}.",
            run=run.code,
            since=since,
            resin_dry_hours=plain(material.resin_dry_hours),
            dry_at=dry_at,
            pointer="/run",
        )
    if run.hopper is not None and run.hopper.is_continuous:
        return
    keeps_until = dry_at + timedelta(hours=float(material.dried_keeps_hours))
    if start > keeps_until:
        raise ResinKeptTooLongError(
            "Run {run}: its resin is dry since {dry_at} and keeps {dried_keeps_hours} h, until {keeps_until}. "
            "Dry it again, then start the run with drying_from, the time at which the new drying began.",
            run=run.code,
            dry_at=dry_at,
            dried_keeps_hours=plain(material.dried_keeps_hours),
            keeps_until=keeps_until,
            pointer="/run",
        )
