"""What the planner reads as of an instant: plans of runs, and what lines and hoppers held, as they were known then."""

from __future__ import annotations

from decimal import Decimal

import pytest

from inventory.models import Filament, Hopper, Line, Material
from inventory.selectors.held_then import held_then
from inventory.services.runs import finish_run, release_run, reschedule_run, resize_run, start_run
from stockplan.planner.selectors.plant_facts import hopper_facts, line_facts
from stockplan.planner.selectors.stock_facts import committed_runs
from tests.inventory.builders import build_tiny_plant, clock, local

pytestmark = pytest.mark.django_db


def test_committed_run_is_read_as_it_was_planned_then():
    plant = build_tiny_plant()
    run = release_run(
        filament_code=plant.black.code,
        line_code="L1",
        spools={"PLA-BLACK-1000": 10},
        planned_start=local("2027-03-01 08:00"),
        planned_end=local("2027-03-01 12:00"),
        clock=clock("2027-03-01 07:00"),
    )
    wednesday = {"planned_start": local("2027-03-03 08:00"), "planned_end": local("2027-03-03 12:00")}
    reschedule_run(run_code=run.code, clock=clock("2027-03-01 07:30"), **wednesday)
    resize_run(run_code=run.code, spools={"PLA-BLACK-1000": 6}, clock=clock("2027-03-01 07:30"))
    then, now = (committed_runs(as_of=local(f"2027-03-01 {hour}"))[0] for hour in ("07:15", "07:45"))
    assert (then.planned_start, then.spools) == (local("2027-03-01 08:00"), {"PLA-BLACK-1000": 10})
    assert (now.planned_start, now.spools) == (wednesday["planned_start"], {"PLA-BLACK-1000": 6})


def _release(filament: Filament, *, sku: str, hour: int):
    return release_run(
        filament_code=filament.code,
        line_code="L1",
        hopper_code="H1",
        drying_from=local(f"2027-03-01 {hour - 4:02}:00"),
        spools={sku: 10},
        planned_start=local(f"2027-03-01 {hour:02}:00"),
        planned_end=local(f"2027-03-01 {hour + 2:02}:00"),
        clock=clock("2027-03-01 03:00"),
    )


def _held(hour: str):
    then = held_then(as_of=local(f"2027-03-01 {hour}"))
    [line], [hopper] = line_facts(then), hopper_facts(then)
    return line.holds, hopper.holds_material, hopper.dried_since


def test_line_and_hopper_are_read_as_they_were_held_then():
    plant = build_tiny_plant()
    long_ago = local("2027-02-27 06:00")
    Line.objects.update(holds=plant.natural)
    Hopper.objects.update(holds_material=Material.objects.get(code="PETG"), dried_since=long_ago)
    runs = [
        _release(plant.black, sku="PLA-BLACK-1000", hour=8),
        _release(plant.natural, sku="PETG-NAT-1000", hour=12),
    ]
    for run, start, end in zip(runs, ("08:00", "12:00"), ("10:00", "14:00"), strict=True):
        start_run(run_code=run.code, clock=clock(f"2027-03-01 {start}"))
        finish_run(
            run_code=run.code, good={}, scrap={}, real_minutes=Decimal(120), purge_kg=Decimal(0),
            clock=clock(f"2027-03-01 {end}"),
        )  # fmt: skip
    assert _held("07:59") == (plant.natural.code, "PETG", long_ago)
    assert _held("08:00") == (plant.black.code, "PLA", local("2027-03-01 04:00"))
    assert _held("11:59") == (plant.black.code, "PLA", local("2027-03-01 04:00"))
    assert _held("13:00") == (plant.natural.code, "PETG", local("2027-03-01 08:00"))
