"""Readings of a run's diameter. Limits 1.72 to 1.78 mm; spools of 1000 g on 200 g."""

from __future__ import annotations

from decimal import Decimal

from inventory.models import DiameterReport, Run
from inventory.rules.clock import Clock
from inventory.services.quality import Judged, post_diameters
from tests.inventory.builders import clock

NOON, AFTER = clock("2027-03-01 12:00"), clock("2027-03-01 15:00")
INSIDE, OUTSIDE = ("1.75", "1.74"), ("1.75", "1.79")


def measure(run: Run, *diameters: str, at: Clock = AFTER, **more: object) -> Judged:
    readings = [(Decimal(text), None) for text in diameters]
    body = {"run_code": run.code, "readings": readings, "source": DiameterReport.Source.HAND, "clock": at}
    return post_diameters(**{**body, **more})
