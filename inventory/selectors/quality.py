"""What was measured of a run: spread and capability of its diameter, its chart, the net mass of its lots."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from inventory.models import DiameterReading, Lot, Run, SpoolWeighing
from inventory.rules.diameter import (
    DEFAULT_SUBGROUP_SIZE,
    DiameterLimits,
    DiameterSummary,
    axes_of,
    summarise_diameters,
)
from inventory.rules.net_mass import NetMassCheck, check_net_mass
from inventory.selectors.run_rows import run_row


@dataclass(frozen=True)
class LotQuality:
    """One lot of a run; `net_mass` is None where none of its spools was weighed. `is_held` is as it stands now."""

    lot_code: str
    sku_code: str
    is_held: bool
    net_mass: NetMassCheck | None


@dataclass(frozen=True)
class RunQuality:
    """Quality of one run; `diameter` is None where it was not measured."""

    run_code: str
    filament_code: str
    nominal_mm: Decimal
    lower_mm: Decimal
    upper_mm: Decimal
    diameter: DiameterSummary | None
    lots: tuple[LotQuality, ...]


def run_quality(
    reference: str, *, as_of: datetime | None = None, subgroup_size: int = DEFAULT_SUBGROUP_SIZE
) -> RunQuality:
    """Return the quality of a run by its code or id, by today's tolerance of its diameter. Eight queries.

    Raises
    ------
    RunNotFoundError
        If there is none, or the books did not know it as of the instant.
    """
    run = Run.objects.select_related("filament__diameter").get(pk=run_row(reference, as_of=as_of).id)
    diameter = run.filament.diameter
    limits = DiameterLimits(nominal_mm=diameter.nominal_mm, tolerance_mm=diameter.tolerance_mm)
    return RunQuality(
        run_code=run.code,
        filament_code=run.filament.code,
        nominal_mm=limits.nominal_mm,
        lower_mm=limits.lower_mm,
        upper_mm=limits.upper_mm,
        diameter=_diameter(run.pk, limits, as_of=as_of, subgroup_size=subgroup_size),
        lots=_lots(run.pk, as_of=as_of),
    )


def _diameter(
    run_id: int, limits: DiameterLimits, *, as_of: datetime | None, subgroup_size: int
) -> DiameterSummary | None:
    readings = DiameterReading.objects.filter(report__run_id=run_id)
    if as_of is not None:
        readings = readings.filter(report__known_at__lte=as_of)
    rows = list(readings.order_by("report__occurred_at", "report_id", "number").values_list("x_mm", "y_mm"))
    if not rows:
        return None
    return summarise_diameters(*axes_of(rows), limits=limits, subgroup_size=subgroup_size)


def _lots(run_id: int, *, as_of: datetime | None) -> tuple[LotQuality, ...]:
    weighings = SpoolWeighing.objects.filter(lot__run_id=run_id)
    lots = Lot.objects.filter(run_id=run_id)
    if as_of is not None:
        weighings = weighings.filter(known_at__lte=as_of)
        lots = lots.filter(run__finished_known_at__lte=as_of)
    net_g: dict[int, list[Decimal]] = defaultdict(list)
    for lot_id, gross, tare in weighings.order_by("id").values_list("lot_id", "gross_g", "tare_g"):
        net_g[lot_id].append(gross - tare)
    return tuple(
        LotQuality(
            lot_code=lot.code,
            sku_code=lot.item.code,
            is_held=lot.is_held,
            net_mass=check_net_mass(net_g[lot.pk], nominal_g=lot.item.sku.spool_size.net_g) if net_g[lot.pk] else None,
        )
        for lot in lots.select_related("item__sku__spool_size").order_by("code")
    )
