"""The run card: everything that the floor needs for one run, on one page."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from forecasting.messages import Message
from inventory.models import Run, RunOutput
from inventory.selectors.changeover_steps import StepRow, steps_of_run
from stockplan.planner.core.cautions import CAUTIONS, SIGN_OFFS
from stockplan.planner.core.extrusion import run_masses, spool_length_m
from stockplan.planner.errors import PlanningError


class RunNotKnownError(PlanningError):
    """There is no run of that code."""

    code = "run_not_found"


@dataclass(frozen=True)
class CardSize:
    """Spools of one size. The target mass is net + give-away; with the tare it is what the scale shows.

    `good` and `scrap` are what was counted at the finish, None before it.
    """

    sku_code: str
    spools: int
    net_g: int
    target_g: int
    tare_g: int
    length_m: float
    spool_part: str
    good: int | None
    scrap: int | None

    @property
    def gross_g(self) -> int:
        """What the scale shows of a full spool."""
        return self.target_g + self.tare_g


@dataclass(frozen=True)
class RunCard:
    """One run for the floor. Masses are the plan's: good, scrap and purge together.

    `is_resin_in_hopper`: it was drying there already when the run was released. `real_purge_kg` is weighed, None
    before the finish.
    """

    run_code: str
    state: str
    state_label: str
    filament_code: str
    material_code: str
    material_name: str
    colour_name: str
    colour_hex: str
    line_code: str
    diameter_mm: float
    tolerance_mm: float
    least_mm: float
    most_mm: float
    planned_start: datetime
    planned_end: datetime
    hopper_code: str | None
    drying_from: datetime | None
    is_resin_in_hopper: bool
    resin_dry_hours: float
    resin_dry_min_c: int
    resin_dry_max_c: int
    resin_item: str
    resin_kg: float
    concentrate_item: str | None
    concentrate_kg: float
    let_down_share: float
    dosing_g_per_kg: float
    changeover_from_code: str | None
    changeover_from_hex: str | None
    changeover_min: float
    purge_kg: float
    good_kg: float
    scrap_kg: float
    sizes: tuple[CardSize, ...]
    shelf_at: datetime | None
    steps: tuple[StepRow, ...]
    real_purge_kg: float | None
    sign_offs: tuple[Message, ...] = SIGN_OFFS
    cautions: tuple[Message, ...] = CAUTIONS

    @property
    def is_changed_over(self) -> bool:
        """Whether every step that the changeover has is ticked."""
        return all(row.is_done for row in self.steps if row.is_needed)


def run_card(run_code: str) -> RunCard:
    """Return the card of a run. Four queries.

    Raises
    ------
    RunNotKnownError
        If there is no run of that code.
    """
    related = ("filament__material__resin_item", "filament__colour__concentrate_item", "filament__diameter")
    run = (
        Run.objects.select_related(*related, "line", "hopper", "changeover_from__colour").filter(code=run_code).first()
    )
    if run is None:
        raise RunNotKnownError("There is no run {run}.", run=run_code)
    outputs = list(
        run.outputs.select_related("sku__item", "sku__spool_size__spool_part").order_by("sku__spool_size__net_g")
    )
    filament, material, colour = run.filament, run.filament.material, run.filament.colour
    diameter = filament.diameter
    sizes = tuple(_card_size(output, diameter.nominal_mm, material.density_g_cm3) for output in outputs)
    masses = run_masses(
        good_kg=sum(size.spools * size.target_g for size in sizes) / 1000,
        purge_kg=float(run.planned_purge_kg),
        scrap_share=float(run.line.scrap_share),
        let_down_share=float(colour.let_down_share),
    )
    return RunCard(
        run_code=run.code,
        state=run.state,
        state_label=str(run.get_state_display()),
        filament_code=filament.code,
        material_code=material.code,
        material_name=material.name,
        colour_name=colour.name,
        colour_hex=colour.hex,
        line_code=run.line.code,
        diameter_mm=float(diameter.nominal_mm),
        tolerance_mm=float(diameter.tolerance_mm),
        least_mm=float(diameter.nominal_mm - diameter.tolerance_mm),
        most_mm=float(diameter.nominal_mm + diameter.tolerance_mm),
        planned_start=run.planned_start,
        planned_end=run.planned_end,
        hopper_code=run.hopper.code if run.hopper else None,
        drying_from=run.drying_from,
        is_resin_in_hopper=run.drying_from is not None and run.drying_from <= run.released_at,
        resin_dry_hours=float(material.resin_dry_hours),
        resin_dry_min_c=material.resin_dry_min_c,
        resin_dry_max_c=material.resin_dry_max_c,
        resin_item=material.resin_item.code,
        resin_kg=masses.resin_kg,
        concentrate_item=colour.concentrate_item.code if colour.concentrate_item else None,
        concentrate_kg=masses.concentrate_kg,
        let_down_share=float(colour.let_down_share),
        dosing_g_per_kg=float(colour.let_down_share) * 1000,
        changeover_from_code=run.changeover_from.code if run.changeover_from else None,
        changeover_from_hex=run.changeover_from.colour.hex if run.changeover_from else None,
        changeover_min=float(run.changeover_min),
        purge_kg=float(run.planned_purge_kg),
        good_kg=masses.good_kg,
        scrap_kg=masses.scrap_kg,
        sizes=sizes,
        shelf_at=max((output.shelf_at for output in outputs), default=None),
        steps=tuple(steps_of_run(run.code)),
        real_purge_kg=None if run.purge_kg is None else float(run.purge_kg),
    )


def _card_size(output: RunOutput, diameter_mm: Decimal, density_g_cm3: Decimal) -> CardSize:
    size = output.sku.spool_size
    return CardSize(
        sku_code=output.sku.item.code,
        spools=output.planned,
        net_g=size.net_g,
        target_g=size.net_g + size.give_away_g,
        tare_g=size.tare_g,
        length_m=spool_length_m(net_g=size.net_g, diameter_mm=float(diameter_mm), density_g_cm3=float(density_g_cm3)),
        spool_part=size.spool_part.code,
        good=output.good,
        scrap=output.scrap,
    )
