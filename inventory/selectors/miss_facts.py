"""What the books know of missed lines at the pick-up of their day."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from inventory.models import Allocation, PromiseChange
from inventory.rules.service import MissFacts
from inventory.selectors.service_lines import in_parts

Row = Mapping[Hashable, Any]


def miss_facts(missed: Sequence[Row], *, as_of: datetime) -> dict[int, MissFacts]:
    """Return the facts of missed lines (rows of `service_lines`) by line id. Two queries for every 5,000 lines."""
    booked = [row for row in missed if not row["is_history"]]
    holdings = _holdings(booked, as_of=as_of)
    promised = _promised_days(booked, as_of=as_of)
    waiting = _orders_that_lack(missed, holdings)
    return {row["line_id"]: _facts(row, holdings[row["line_id"]], promised, waiting) for row in missed}


@dataclass
class _Holding:
    """What a line held at the pick-up, and whether something was taken from it before."""

    on_shelf: int = 0
    on_supply: int = 0
    is_taken_from_shelf: bool = False
    is_taken_from_supply: bool = False


def _facts(
    row: Row, held: _Holding, promised: Mapping[int, Sequence[date]], waiting: Mapping[int, set[int]]
) -> MissFacts:
    lacking = waiting.get(row["order_id"], set()) - {row["line_id"]}
    return MissFacts(
        missed=row["wanted"] - row["in_time"],
        added_late=row["added_late"],
        on_shelf=held.on_shelf,
        on_supply=held.on_supply,
        was_in_time=any(day <= row["day"] for day in promised.get(row["line_id"], ())),
        is_cancelled_by_shop=row["is_cancelled_by_shop"],
        is_moved_by_customer=bool(row["wanted_day"] and row["wanted_day"] > row["due_day"]),
        is_taken_from_shelf=held.is_taken_from_shelf,
        is_taken_from_supply=held.is_taken_from_supply,
        is_history=row["is_history"],
        waits_for_others=bool(lacking) and not row["may_part_ship"],
    )


def _orders_that_lack(rows: Sequence[Row], holdings: Mapping[int, _Holding]) -> dict[int, set[int]]:
    """By order: the lines that the shelf did not cover."""
    lacking: dict[int, set[int]] = defaultdict(set)
    for row in rows:
        if holdings[row["line_id"]].on_shelf < row["wanted"] - row["in_time"] - row["added_late"]:
            lacking[row["order_id"]].add(row["line_id"])
    return lacking


def _holdings(missed: Sequence[Row], *, as_of: datetime) -> dict[int, _Holding]:
    ends = {row["line_id"]: row["day_end"] for row in missed}
    holdings: dict[int, _Holding] = defaultdict(_Holding)
    fields = ("order_line_id", "run_output_id", "quantity", "created_at", "ended_at", "ended_known_at", "end")
    for ids in in_parts(list(ends)):
        rows = Allocation.objects.filter(order_line_id__in=ids, created_known_at__lte=as_of).order_by("id")
        for line_id, output_id, quantity, begun, ended, ended_known, end in rows.values_list(*fields):
            is_over = ended is not None and ended <= ends[line_id] and ended_known <= as_of
            _add(holdings[line_id], output_id, quantity, is_begun=begun <= ends[line_id], end=end if is_over else "")
    return holdings


def _add(holding: _Holding, output_id: int | None, quantity: int, *, is_begun: bool, end: str) -> None:
    if end == Allocation.End.TAKEN:
        holding.is_taken_from_shelf |= output_id is None
        holding.is_taken_from_supply |= output_id is not None
    elif is_begun and not end:
        holding.on_shelf += quantity if output_id is None else 0
        holding.on_supply += quantity if output_id is not None else 0


def _promised_days(missed: Sequence[Row], *, as_of: datetime) -> dict[int, list[date]]:
    """By line: the days that it was ever promised for, before its day was over."""
    ends = {row["line_id"]: row["day_end"] for row in missed}
    promised: dict[int, list[date]] = defaultdict(list)
    for ids in in_parts(list(ends)):
        moves = PromiseChange.objects.filter(order_line_id__in=ids, known_at__lte=as_of).order_by("id")
        for line_id, old_day, new_day, at in moves.values_list("order_line_id", "old_day", "new_day", "occurred_at"):
            # A move after the day was over still tells what was promised before it.
            known = [old_day, new_day] if at <= ends[line_id] else [old_day]
            promised[line_id] += [day for day in known if day is not None]
    for row in missed:
        if row["line_id"] not in promised and row["promised_day"] is not None:
            promised[row["line_id"]].append(row["promised_day"])
    return promised
