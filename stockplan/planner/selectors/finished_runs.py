"""Finished runs beside what the plant's figures would have planned for them, and what was accepted of them."""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime

from django.db.models import Max, QuerySet

from inventory.models import Run, RunOutput
from stockplan.planner.core.learning import FinishedRun
from stockplan.planner.core.plant import Plant
from stockplan.planner.models import AcceptedFigures


def finished_runs(plant: Plant, *, as_of: datetime) -> dict[str, list[FinishedRun]]:
    """Return the finished runs of each line in use, known as of an instant, by line. Three queries.

    What was accepted is in the line's figures already, so those runs do not teach again. A run of a filament that its
    line no longer makes says nothing of today's figures and is left out.
    """
    runs = _known(as_of).select_related("filament", "line", "changeover_from").order_by("finished_at", "pk")
    wound: defaultdict[int, dict[str, tuple[int, int]]] = defaultdict(dict)
    outputs = RunOutput.objects.filter(run__in=runs).values_list("run_id", "sku__item__code", "good", "scrap")
    for run_id, sku, good, scrap in outputs:
        wound[run_id][sku] = good or 0, scrap or 0
    found: defaultdict[str, list[FinishedRun]] = defaultdict(list)
    learned_to = dict(AcceptedFigures.objects.order_by().values_list("line__code").annotate(Max("learned_to")))
    for run in runs:
        line = plant.lines.get(run.line.code)
        if line is not None and line.code in learned_to and run.finished_known_at <= learned_to[line.code]:
            continue
        if line is not None and run.filament.code in line.rates and any(good for good, _ in wound[run.pk].values()):
            found[line.code].append(_finished(plant, run, wound[run.pk]))
    return dict(found)


def filaments_made(*, as_of: datetime) -> set[str]:
    """Return the codes of the filaments of those runs, and of what their lines held before. Two queries."""
    runs = _known(as_of).order_by()
    before = runs.filter(changeover_from__isnull=False)
    codes = [runs.values_list("filament__code", flat=True), before.values_list("changeover_from__code", flat=True)]
    return {code for some in codes for code in some.distinct()}


def accepted_figures() -> QuerySet[AcceptedFigures]:
    """Return what was accepted, the newest first. One query."""
    return AcceptedFigures.objects.select_related("line", "accepted_by")


def _known(as_of: datetime) -> QuerySet[Run]:
    return Run.objects.filter(finished_known_at__lte=as_of, real_minutes__isnull=False)


def _finished(plant: Plant, run: Run, wound: dict[str, tuple[int, int]]) -> FinishedRun:
    line, filament = run.line.code, run.filament.code
    codes = [plant.facts.skus[s].code for s in plant.skus_of[filament]]
    good, scrap = ([wound.get(code, (0, 0))[which] for code in codes] for which in (0, 1))
    before = None if run.changeover_from is None else run.changeover_from.code
    scrap_kg = plant.good_kg(filament, scrap)
    return FinishedRun(
        pair=None if before is None or before == filament else (before, filament),
        changeover_min=float(plant.changeover_min(line, before, filament)),
        winding_min=float(plant.run_min(line, filament, good)),
        real_min=float(run.real_minutes or 0),
        wound_kg=plant.good_kg(filament, good) + scrap_kg,
        scrap_kg=scrap_kg,
    )
