"""Announced demand as it was known at an instant: for the page, and as factors of the forecast."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

import numpy as np
import pandas as pd
from django.db.models import Q

from inventory.models import Filament, Material, Sku
from stockplan.planner.models import AnnouncedDemand


@dataclass(frozen=True)
class Announcement:
    """Demand due from the first to the last day is `factor` times the usual; `scope` is a code, or empty: of all."""

    id: int
    name: str
    first_day: date
    last_day: date
    factor: float
    scope: str
    sku_ids: tuple[int, ...]


def announcements_at(as_of: datetime) -> tuple[Announcement, ...]:
    """Return what was announced and not withdrawn at an instant, by first day. Two queries."""
    rows = (
        AnnouncedDemand.objects.filter(created_at__lte=as_of)
        .filter(Q(withdrawn_at__isnull=True) | Q(withdrawn_at__gt=as_of))
        .select_related("material", "filament")
    )
    skus = list(Sku.objects.order_by("pk").values_list("pk", "filament_id", "filament__material_id")) if rows else []
    return tuple(
        Announcement(
            id=row.pk,
            name=row.name,
            first_day=row.first_day,
            last_day=row.last_day,
            factor=float(row.factor),
            scope=_scope(row),
            sku_ids=tuple(
                sku
                for sku, filament, material in skus
                if row.filament_id in (None, filament) and row.material_id in (None, material)
            ),
        )
        for row in rows
    )


def announced_for(sku_code: str, *, as_of: datetime, today: date) -> tuple[Announcement, ...]:
    """Return what is announced for an SKU from today on. Three queries."""
    coming = [one for one in announcements_at(as_of) if one.last_day >= today]
    sku = Sku.objects.filter(item__code=sku_code).values_list("pk", flat=True).first() if coming else None
    return tuple(one for one in coming if sku in one.sku_ids)


def scope_codes() -> tuple[list[str], list[str]]:
    """Return the codes of materials and of filaments that an announcement may be about. Two queries."""
    materials = Material.objects.order_by("code").values_list("code", flat=True)
    return list(materials), list(Filament.objects.order_by("code").values_list("code", flat=True))


def event_factors(
    announcements: Sequence[Announcement], *, days: Sequence[date], sku_ids: Sequence[int]
) -> pd.DataFrame | None:
    """Return the factor of each day (rows) and SKU (columns); what overlaps multiplies. None where all are 1."""
    table = np.ones((len(days), len(sku_ids)))
    ordinals = np.array(days, dtype="datetime64[D]")
    for one in announcements:
        is_in = (ordinals >= np.datetime64(one.first_day)) & (ordinals <= np.datetime64(one.last_day))
        table[np.ix_(is_in, np.isin(sku_ids, one.sku_ids))] *= one.factor
    return None if np.all(table == 1.0) else pd.DataFrame(table, index=list(days), columns=list(sku_ids))


def _scope(row: AnnouncedDemand) -> str:
    scope = row.filament or row.material
    return "" if scope is None else scope.code
