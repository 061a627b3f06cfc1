"""What the floor teaches: estimates from finished runs, used when the planner accepts them."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from django.contrib.auth.models import AbstractBaseUser
from django.db import transaction

from inventory.models import Changeover, Filament, Line
from stockplan.planner.core.learning import LineLearning, learn_line
from stockplan.planner.core.plant import Plant, plant_of
from stockplan.planner.errors import PlanningError
from stockplan.planner.models import AcceptedFigures
from stockplan.planner.selectors.facts import making_facts
from stockplan.planner.selectors.finished_runs import filaments_made, finished_runs

# A pair that was changed over less often keeps the plant's rule.
LEAST_CHANGEOVERS = 3
HIGHEST_AVAILABILITY = Decimal(1)
LEAST_AVAILABILITY = Decimal("0.0001")


class LearningError(PlanningError):
    """Nothing can be learned, or accepted, for this line."""

    code = "learning"


def learned_figures(*, as_of: datetime) -> dict[str, LineLearning]:
    """Return what the finished runs known as of an instant say of each line that has some. Nothing is written."""
    plant = _plant(as_of)
    runs = finished_runs(plant, as_of=as_of)
    return {code: learn_line(rows, scrap_share=plant.lines[code].scrap_share) for code, rows in sorted(runs.items())}


@transaction.atomic
def accept_learned(
    *, line_code: str, as_of: datetime, now: datetime, accepted_by: AbstractBaseUser | None
) -> AcceptedFigures:
    """Enter what was learned of a line as the plant's own figures, and keep who did and what they were before.

    A winding factor of 1.25 divides the availability by it: a run's total time does not tell slow winding from stops.
    Where it would pass 1 the entered speeds are too low, and it stays at 1. Pairs with three changeovers or more get
    minutes of their own on this line; their purge stays. The line's row is locked.

    Parameters
    ----------
    as_of
        The instant of which the figures were shown: what was learned since is not entered unseen.

    Raises
    ------
    LearningError
        If there is no such line in use, it has no finished run that was not accepted before, or `as_of` is to come.
    """
    if as_of > now:
        raise LearningError("Figures of an instant to come cannot be accepted.", pointer="/as_of")
    line = Line.objects.select_for_update().filter(code=line_code, is_active=True).first()
    if line is None:
        raise LearningError("There is no line {line} in use.", line=line_code, pointer="/line")
    plant = _plant(as_of)
    runs = finished_runs(plant, as_of=as_of).get(line_code)
    if not runs:
        raise LearningError(
            "Line {line} has no finished run to learn from that was not accepted before.",
            line=line_code,
            pointer="/line",
        )
    learned = learn_line(runs, scrap_share=float(line.scrap_share))
    before = line.availability, line.scrap_share
    real = _rounded(float(line.availability) / learned.winding_factor.learned)
    line.availability = min(max(real, LEAST_AVAILABILITY), HIGHEST_AVAILABILITY)
    line.scrap_share = _rounded(learned.scrap_share.learned)
    line.full_clean()
    line.save(update_fields=["availability", "scrap_share"])
    return AcceptedFigures.objects.create(
        line=line,
        accepted_at=now,
        accepted_by_id=None if accepted_by is None else accepted_by.pk,
        learned_to=as_of,
        runs=len(runs),
        availability_before=before[0],
        availability=line.availability,
        scrap_share_before=before[1],
        scrap_share=line.scrap_share,
        changeovers=_accept_changeovers(plant, line, learned),
    )


def _plant(as_of: datetime) -> Plant:
    """Return the plant so far as finished runs need it: what was never made is not read."""
    return plant_of(making_facts(filaments_made(as_of=as_of), as_of=as_of))


def _accept_changeovers(plant: Plant, line: Line, learned: LineLearning) -> list[list[str | int]]:
    """Write the minutes of the pairs seen often enough; return from, to, minutes before and after."""
    filaments = {f.code: f for f in Filament.objects.all()}
    written: list[list[str | int]] = []
    for (before, after), estimate in learned.changeovers.items():
        if estimate.runs >= LEAST_CHANGEOVERS:
            minutes = max(round(estimate.learned), 0)
            purge_kg = Decimal(str(round(plant.purge_kg(line.code, before, after), 3)))
            Changeover.objects.update_or_create(
                line=line,
                from_filament=filaments[before],
                to_filament=filaments[after],
                defaults={"minutes": minutes, "purge_kg": purge_kg},
            )
            written.append([before, after, round(estimate.entered), minutes])
    return written


def _rounded(share: float) -> Decimal:
    return Decimal(str(round(share, 4)))
