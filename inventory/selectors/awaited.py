"""How many spools of each run output are still to reach the shelf, told by its run and by where its lots lie."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from django.db.models import Sum

from inventory.models import Balance, Run, RunOutput
from inventory.rules.flows import PIPELINE


def awaited_spools() -> dict[int, int]:
    """Return the spools that each run output must await, by its id. Two queries.

    Planned ones until the run is finished, none of a cancelled run, then what waits for the oven, dries or waits to
    be packed. `RunOutput.awaited` is kept equal to this; the audit compares, and a rebuild restores it.
    """
    rows = Balance.objects.filter(place__kind__in=PIPELINE, lot__run__isnull=False)
    waiting: Mapping[tuple[int | None, int], Decimal] = {
        (run_id, sku_id): quantity
        for run_id, sku_id, quantity in rows.values_list("lot__run_id", "item_id").order_by().annotate(Sum("quantity"))
    }
    outputs = RunOutput.objects.values_list("pk", "run_id", "sku_id", "run__state", "planned")
    return {
        pk: int(waiting.get((run_id, sku_id), 0)) if state == Run.State.FINISHED else _planned(state, planned)
        for pk, run_id, sku_id, state, planned in outputs
    }


def _planned(state: str, planned: int) -> int:
    return 0 if state == Run.State.CANCELLED else planned
