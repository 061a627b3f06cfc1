"""One run of black filament, driven to any stage, with figures that can be added by hand.

Released Monday 2027-03-01 07:00 for 08:00 to 14:00: 40 spools of 1 kg and 20 of 250 g.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from inventory.models import OvenLoad, Run
from inventory.services.ovens import load_oven
from inventory.services.packing import pack
from inventory.services.run_finish import RunFinished
from inventory.services.runs import finish_run, release_run, start_run
from tests.inventory.builders import clock, local

KG, QUARTER = "PLA-BLACK-1000", "PLA-BLACK-250"


def released(
    *,
    spools: Mapping[str, int] | None = None,
    start: str = "2027-03-01 08:00",
    end: str = "2027-03-01 14:00",
    **fields: object,
) -> Run:
    return release_run(
        filament_code="PLA-BLACK-1.75",
        line_code="L1",
        spools={KG: 40, QUARTER: 20} if spools is None else spools,
        planned_start=local(start),
        planned_end=local(end),
        clock=clock("2027-03-01 07:00"),
        **fields,
    )


def started(**fields: object) -> Run:
    run = released(**fields)
    start_run(run_code=run.code, clock=clock("2027-03-01 08:00"))
    return run


def natural_started() -> Run:
    """Another filament, without concentrate: five spools from 08:00 to 09:00."""
    run = release_run(
        filament_code="PETG-NATURAL-1.75",
        line_code="L1",
        spools={"PETG-NAT-1000": 5},
        planned_start=local("2027-03-01 08:00"),
        planned_end=local("2027-03-01 09:00"),
        clock=clock("2027-03-01 07:00"),
    )
    start_run(run_code=run.code, clock=clock("2027-03-01 08:00"))
    return run


def finish(
    run: Run,
    *,
    good: Mapping[str, int] | None = None,
    scrap: Mapping[str, int] | None = None,
    purge_kg: str = "1.5",
    at: str = "2027-03-01 14:00",
    **weighed_kg: str,
) -> RunFinished:
    return finish_run(
        run_code=run.code,
        good={KG: 38, QUARTER: 20} if good is None else good,
        scrap={KG: 1} if scrap is None else scrap,
        real_minutes=Decimal(360),
        purge_kg=Decimal(purge_kg),
        clock=clock(at),
        **{name: Decimal(mass) for name, mass in weighed_kg.items()},
    )


def finished(**report: Any) -> RunFinished:
    return finish(started(), **report)


def loaded(*, spools: int = 38, at: str = "2027-03-01 17:00") -> OvenLoad:
    run = finished().run
    return load_oven(oven_code="O1", spools=[(run.code, KG, spools)], clock=clock(at))


def packed(*, spools: int = 38, at: str = "2027-03-02 08:00") -> Run:
    loaded()
    run = Run.objects.get()
    pack(spools=[(run.code, KG, spools)], clock=clock(at))
    return run
