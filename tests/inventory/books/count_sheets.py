"""Count sheets of one day: opened at 10:00, counted at noon unless told."""

from __future__ import annotations

from decimal import Decimal

from inventory.models import CountSheet
from inventory.rules.clock import Clock
from inventory.services.counting import Counted, open_count_sheet, record_count
from tests.inventory.books.floor import KG
from tests.inventory.builders import clock

NATURAL = "PETG-NAT-1000"
OPENED, NOON = clock("2027-03-01 10:00"), clock("2027-03-01 12:00")


def opened(*codes: str, tolerance: str = "0") -> CountSheet:
    return open_count_sheet(sku_codes=codes or (KG,), tolerance_share=Decimal(tolerance), clock=OPENED)


def count(sheet: CountSheet, counted: int, *, sku: str = KG, at: Clock = NOON, **more: object) -> Counted:
    return record_count(sheet_code=sheet.code, sku_code=sku, counted=counted, clock=at, **more)
