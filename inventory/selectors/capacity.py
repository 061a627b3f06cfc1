"""Which day the lines could give where nothing is planned: asked of the planner through a setting, never imported."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date, datetime
from typing import cast

from django.conf import settings
from django.utils.module_loading import import_string

from inventory.rules.order_receipt import OrderReceipt, last_day

CapacityQuestion = Callable[..., Mapping[int, date | None]]


def with_capacity(receipt: OrderReceipt, *, as_of: datetime) -> OrderReceipt:
    """Add the earliest day that capacity could give to each unpromised line and to the order.

    Asks the function that `settings.EARLIEST_CAPACITY_DAY` names, only when something is unpromised.
    """
    if receipt.state != "open" or not receipt.unpromised_lines:
        return receipt
    ask = cast(CapacityQuestion, import_string(settings.EARLIEST_CAPACITY_DAY))
    missing = receipt.unpromised_lines
    days = ask({line.sku_id: line.unpromised for line in missing}, as_of=as_of)
    lines = tuple(
        replace(line, earliest_capacity_day=days.get(line.sku_id)) if line.unpromised else line
        for line in receipt.lines
    )
    return replace(receipt, lines=lines, earliest_capacity_day=last_day([days.get(line.sku_id) for line in missing]))
