"""The number fields by which a planner puts runs into another order: what was typed, and what is wrong with it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from django.utils.translation import gettext as _

from inventory.wording import in_words
from stockplan.planner.core.run_order import Move
from stockplan.planner.errors import PlanningError
from stockplan.planner.pages.typed import whole_number
from stockplan.planner.selectors.line_orders import LineOrders, LineRun

POINTER = re.compile(r"/moves/(?P<at>\d+)(/(?P<name>place|line))?")


@dataclass(frozen=True)
class OrderRow:
    """A run as the form has it: what stands in its fields, and what is wrong with each."""

    run: LineRun
    place: str
    line: str
    faults: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class TypedOrder:
    """What was typed: the runs whose place or line is not the present one, and faults by run and field."""

    posted: Mapping[str, str]
    moves: tuple[Move, ...]
    faults: Mapping[str, Mapping[str, str]]

    def with_fault(self, error: PlanningError) -> TypedOrder | None:
        """Return it with an error beside the field that it is about, None if it is about none."""
        found = POINTER.fullmatch(error.pointer)
        if found is None:
            return None
        move = self.moves[int(found["at"])]
        return TypedOrder(self.posted, self.moves, {move.key: {found["name"] or "place": in_words(error)}})

    def row(self, run: LineRun) -> OrderRow:
        """Return a run as it was typed."""
        place, line = _typed(self.posted, run)
        return OrderRow(run, place, line, self.faults.get(run.key, {}))


def typed_order(orders: LineOrders, posted: Mapping[str, str]) -> TypedOrder:
    """Return what was typed. A run without fields stays; nothing of a field that holds no number is moved."""
    moves, faults = [], {}
    for run in orders.runs:
        text, line = _typed(posted, run)
        if (text, line) == (str(run.place or ""), run.line_code):
            continue
        place = whole_number(text)
        if place is None:
            faults[run.key] = {"place": _("A place is a whole number from 1 on, got %(text)r.") % {"text": text}}
        else:
            moves.append(Move(run.key, line, place))
    return TypedOrder(posted, tuple(moves), faults)


def _typed(posted: Mapping[str, str], run: LineRun) -> tuple[str, str]:
    place = posted.get(f"place-{run.key}", str(run.place or "")).strip()
    return place, posted.get(f"line-{run.key}", run.line_code)
