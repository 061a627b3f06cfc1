"""What a what-if says beside its price: when a rush order ships, and whether it pays to plan released runs anew."""

from __future__ import annotations

import numpy as np

from forecasting.messages import Message, message
from stockplan.planner.core.facts import PlanFacts
from stockplan.planner.core.shortage import Ints
from stockplan.planner.core.whatif import RushOrder


def shipped_on(order: RushOrder, *, facts: PlanFacts, supply: Ints) -> Message:
    """Say on which ship day all of a rush order is there, orders that are due before it served first.

    Parameters
    ----------
    facts
        With the order in them.
    supply
        Spools by SKU of the facts, in their order, that are there by each of their days, (S, T).
    """
    row, sku = next((row, sku) for row, sku in enumerate(facts.skus) if sku.code == order.sku)
    due = next(at for at, day in enumerate(facts.days) if day >= order.day)
    there = np.flatnonzero(supply[row] >= sku.late + sku.due[due])
    words = {"spools": order.spools, "sku": order.sku, "due": facts.days[due]}
    if not len(there):
        return message(
            "The rush order of {spools} × {sku} due on {due} is not complete with the runs of this list, "
            "which ends on {last}.",
            **words,
            last=facts.last_day,
        )
    if there[0] <= due:
        return message("The rush order of {spools} × {sku} due on {due} ships on that day.", **words)
    return message(
        "The rush order of {spools} × {sku} due on {due} is late: it ships complete on {day}.",
        **words,
        day=facts.days[there[0]],
    )


def released_verdict(*, released: int, moved: int, avoided: float, price: float) -> Message:
    """Say whether planning released runs anew pays.

    Parameters
    ----------
    released, moved
        Runs that are released and not started, and those of them that the new list has otherwise.
    avoided
        Misses fewer with the new list.
    price
        Misses that it must avoid for each run that moves.
    """
    pays = bool(moved) and avoided > moved * price
    return message(
        "Planned anew, {moved} of {released} released runs would stand otherwise, and the list would avoid "
        "{avoided:.2f} misses more. The plant's price is {price:g} for each that moves, {whole:.2f} in all: {verdict}.",
        moved=moved,
        released=released,
        avoided=float(avoided),
        price=float(price),
        whole=float(moved * price),
        verdict=message("it pays to cancel them and release the new ones") if pays else message("they stay"),
    )
