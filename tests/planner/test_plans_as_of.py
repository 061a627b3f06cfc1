"""What the planner reads of committed runs as of an instant: the plan that was known then."""

from __future__ import annotations

import pytest

from inventory.services.runs import release_run, reschedule_run, resize_run
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
