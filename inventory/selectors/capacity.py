"""Which day the lines could give where nothing is planned: asked of the planner through a setting, never imported."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import cast

from django.conf import settings
from django.utils.module_loading import import_string

from inventory.rules.order_receipt import LinePromise, OrderReceipt, last_day

Wanted = tuple[int, int]
"""Id of a SKU and a number of spools."""
CapacityQuestion = Callable[..., Mapping[Wanted, date | None]]


def with_capacity(receipt: OrderReceipt, *, as_of: datetime) -> OrderReceipt:
    """Add the earliest day that capacity could give to each unpromised line and to the order."""
    return with_capacities([(receipt, as_of)])[0]


def with_capacities(asked: Sequence[tuple[OrderReceipt, datetime]]) -> list[OrderReceipt]:
    """Do so for many orders, each as of its instant.

    Asks the function that `settings.EARLIEST_CAPACITY_DAY` names, once an instant, only when something is unpromised:
    it reads the whole plant.
    """
    missing: defaultdict[datetime, set[Wanted]] = defaultdict(set)
    for receipt, as_of in asked:
        if wanted := {_wanted(line) for line in _unpromised(receipt)}:
            missing[as_of] |= wanted
    days = {as_of: _days(wanted, as_of=as_of) for as_of, wanted in missing.items()}
    return [_with_days(receipt, days[as_of]) if _unpromised(receipt) else receipt for receipt, as_of in asked]


def _unpromised(receipt: OrderReceipt) -> tuple[LinePromise, ...]:
    return receipt.unpromised_lines if receipt.state == "open" else ()


def _wanted(line: LinePromise) -> Wanted:
    return line.sku_id, line.unpromised


def _days(wanted: Collection[Wanted], *, as_of: datetime) -> Mapping[Wanted, date | None]:
    ask = cast(CapacityQuestion, import_string(settings.EARLIEST_CAPACITY_DAY))
    return ask(wanted, as_of=as_of)


def _with_days(receipt: OrderReceipt, days: Mapping[Wanted, date | None]) -> OrderReceipt:
    lines = tuple(
        replace(line, earliest_capacity_day=days.get(_wanted(line))) if line.unpromised else line
        for line in receipt.lines
    )
    latest = last_day([days.get(_wanted(line)) for line in receipt.unpromised_lines])
    return replace(receipt, lines=lines, earliest_capacity_day=latest)
