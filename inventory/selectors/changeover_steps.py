"""The steps of a run's changeover with who ticked what, as it stands or as the books knew it at an instant."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime

from inventory.models import Filament, Run, StepTick
from inventory.rules.changeover_steps import Made, steps_of
from inventory.selectors.run_plans import run_plans
from inventory.selectors.run_rows import RunNotFoundError

TRAITS = ("material", "colour", "diameter")
# What a run is read with, so that its steps need no other query.
WITH_TRAITS = tuple(
    f"{filament}__{trait}" for filament in ("filament", "changeover_from", "line_held") for trait in TRAITS
)


@dataclass(frozen=True)
class TickRow:
    """One tick, or its taking back. `by` is None where nobody said who."""

    is_done: bool
    occurred_at: datetime
    by: str | None


@dataclass(frozen=True)
class StepRow:
    """One step with its ticks in their order. `is_needed`: the changeover has it; others were ticked before the plan
    of the run changed.
    """

    step: str
    label: str
    is_needed: bool
    ticks: tuple[TickRow, ...]

    @property
    def is_done(self) -> bool:
        """Whether a tick stands."""
        return self.done is not None

    @property
    def done(self) -> TickRow | None:
        """The tick that stands."""
        return self.ticks[-1] if self.ticks and self.ticks[-1].is_done else None


def steps_of_run(run_code: str, *, as_of: datetime | None = None) -> list[StepRow]:
    """Return the steps of a run in their order. Two queries, one more and the filament before as of an instant.

    Raises
    ------
    RunNotFoundError
        If there is none of that code, or the books did not know it as of the instant.
    """
    run = Run.objects.select_related(*WITH_TRAITS).filter(code=run_code).first()
    if run is None:
        raise RunNotFoundError("There is no run {reference!r}.", reference=run_code)
    if as_of is not None and run.released_known_at > as_of:
        raise RunNotFoundError(
            "No run {reference!r} was released as of {as_of}.", reference=run_code, as_of=as_of.isoformat()
        )
    needed = needed_steps(run, as_of=as_of)
    ticks = run.step_ticks.select_related("posted_by").order_by("turn")
    if as_of is not None:
        ticks = ticks.filter(known_at__lte=as_of)
    rows: defaultdict[str, list[TickRow]] = defaultdict(list)
    for tick in ticks:
        by = tick.posted_by.get_username() if tick.posted_by else None
        rows[tick.step].append(TickRow(tick.is_done, tick.occurred_at, by))
    return [
        StepRow(step.value, str(step.label), step in needed, tuple(rows[step]))
        for step in StepTick.Step
        if step in needed or rows[step]
    ]


def needed_steps(run: Run, *, as_of: datetime | None = None) -> tuple[str, ...]:
    """Return the steps that the changeover of a run has: after what its line held at its start, before that after what
    it was planned to follow.
    """
    held, filament = _held(run, as_of=as_of), run.filament
    return steps_of(
        made_of(held) if held else None,
        made_of(filament),
        has_concentrate=filament.colour.concentrate_item_id is not None,
        is_dried=filament.material.resin_dry_hours > 0,
    )


def made_of(filament: Filament) -> Made:
    """Return what of a filament decides on the steps."""
    return Made(
        material=filament.material.code,
        colour=filament.colour.code,
        lab_l=filament.colour.lab_l,
        diameter_mm=filament.diameter.nominal_mm,
    )


def _held(run: Run, *, as_of: datetime | None) -> Filament | None:
    started = run.started_known_at
    if started is not None and (as_of is None or started <= as_of):
        return run.line_held
    return run.changeover_from if as_of is None else run_plans([run], as_of=as_of)[run.pk].changeover_from
