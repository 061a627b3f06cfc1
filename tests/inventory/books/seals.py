"""Seals of the ledger on the evening of one day."""

from __future__ import annotations

from functools import partial

from inventory.selectors.seals import verify_seals
from inventory.services.sealing import seal_ledger
from tests.inventory.builders import clock, local

NOON, AT = clock("2027-03-01 12:00"), local("2027-03-01 23:00")
seal = partial(seal_ledger, sealed_at=AT)


def faults() -> list[str]:
    return [str(fault) for fault in verify_seals().faults]
