"""What the tests of floor reports share: a released run."""

from __future__ import annotations

import pytest

from inventory.services.runs import release_run
from tests.api.floor.reports import BLACK, receive
from tests.inventory.builders import clock, local


@pytest.fixture
def run(plant, replay):
    """A run of ten spools that is released for Monday, 08:00 to 12:00, with material in the store."""
    for item, quantity in (("RESIN-PLA", 500), ("MB-BLACK", 20), ("SPOOL-S1000", 100), ("BOX-S1000", 100)):
        receive(replay, item, quantity)
    return release_run(
        filament_code=plant.black.code,
        line_code=plant.line.code,
        spools={BLACK: 10},
        planned_start=local("2027-03-01 08:00"),
        planned_end=local("2027-03-01 12:00"),
        clock=clock("2027-03-01 07:00"),
    ).code
