"""The mass check of finished runs, computed again from the ledger."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from django.db.models import Sum

from inventory.models import Item, Movement, MovementLine, Place, Run, RunOutput
from inventory.rules.conversion import is_mass_balanced
from inventory.selectors.plant import parameters


def run_mass_faults() -> Iterator[tuple[str, str]]:
    """Yield run codes and what is wrong: masses, spools, or a difference that nobody flagged. Four queries."""
    runs = list(Run.objects.filter(state=Run.State.FINISHED).order_by("id"))
    if not runs:
        return
    drawn, wound, tolerance = _drawn_kg(), _wound_spools(), parameters().mass_tolerance_share
    reported: dict[int, tuple[int, int]] = {}
    for run_id, good, scrap in RunOutput.objects.values_list("run_id").order_by().annotate(Sum("good"), Sum("scrap")):
        reported[run_id] = (good or 0, scrap or 0)
    for run in runs:
        in_kg, out_kg = run.mass_in_kg or Decimal(0), run.mass_out_kg or Decimal(0)
        if in_kg != drawn.get(run.pk, Decimal(0)):
            yield run.code, f"mass in {in_kg:f} kg, drawn by the ledger {drawn.get(run.pk, Decimal(0)):f} kg"
        spools = (wound.get((run.pk, Place.Kind.WOUND), 0), wound.get((run.pk, Place.Kind.SCRAP), 0))
        if spools != reported.get(run.pk, (0, 0)):
            yield run.code, f"good and scrap spools {reported.get(run.pk, (0, 0))}, in the ledger {spools}"
        if not run.is_mass_flagged and not is_mass_balanced(in_kg=in_kg, out_kg=out_kg, tolerance_share=tolerance):
            yield run.code, f"{in_kg:f} kg in, {out_kg:f} kg out, tolerance {tolerance:f}, not flagged"


def _drawn_kg() -> dict[int, Decimal]:
    """Resin and concentrate that the store gave each run, in kg."""
    lines = MovementLine.objects.filter(
        movement__kind=Movement.Kind.RUN_CONSUMPTION, item__unit=Item.Unit.KG, from_place__is_physical=True
    )
    by_run = lines.values_list("movement__run_id").order_by().annotate(Sum("quantity"))
    return {run_id: quantity for run_id, quantity in by_run if run_id is not None}


def _wound_spools() -> dict[tuple[int, str], int]:
    """Spools that each run wound, by where they went."""
    lines = MovementLine.objects.filter(movement__kind=Movement.Kind.RUN_OUTPUT)
    by_run = lines.values_list("movement__run_id", "to_place__kind").order_by().annotate(Sum("quantity"))
    return {(run_id, kind): int(spools) for run_id, kind, spools in by_run if run_id is not None}
