"""The service report: what shipped complete on its due day, and the reason of each miss."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date, datetime, timedelta

import pandas as pd

from inventory.rules.service import Miss, ReasonCount, ServiceReport, miss_reason, shares_of
from inventory.selectors.miss_facts import miss_facts
from inventory.selectors.plant import ship_calendar
from inventory.selectors.service_lines import service_lines, with_told


def service_report(*, first: date, last: date, as_of: datetime) -> ServiceReport:
    """Return the shares of lines due from `first` to `last`, judged by the facts known as of the instant.

    A day is judged once its pick-up is past. Orders of the plant's own use are left out. Eight queries, and three for
    every 5,000 missed lines.
    """
    calendar = ship_calendar(first=min(first, as_of.date() - timedelta(days=1)), last=last + timedelta(days=60))
    lines = service_lines(first=first, last=last, as_of=as_of, calendar=calendar)
    return report_of(lines, first=first, last=last, as_of=as_of)


def report_of(lines: pd.DataFrame, *, first: date, last: date, as_of: datetime) -> ServiceReport:
    """Return the report of lines as `service_lines` gives them. Three queries for every 5,000 missed lines."""
    is_quoted = lines["day"].notna()
    is_past = (lines["day_end"] < as_of).fillna(value=False)
    judged = lines[is_past]
    misses = _misses(with_told(judged[judged["in_time"] < judged["wanted"]]), as_of=as_of)
    return ServiceReport(
        first=first,
        last=last,
        as_of=as_of,
        stocked=shares_of(judged[judged["is_stocked"]]),
        made_to_order=shares_of(judged[~judged["is_stocked"]]),
        not_yet_due_lines=int((is_quoted & ~is_past).sum()),
        unquoted_lines=int((~is_quoted).sum()),
        reasons=_counts(misses),
        misses=misses,
    )


def _misses(missed: pd.DataFrame, *, as_of: datetime) -> tuple[Miss, ...]:
    rows = missed.sort_values(["day", "order_id", "line_no"]).to_dict("records")
    facts = miss_facts(rows, as_of=as_of)
    return tuple(
        Miss(
            order_id=row["order_id"],
            channel=row["channel"],
            reference=row["reference"],
            line_no=row["line_no"],
            sku_code=row["sku_code"],
            day=row["day"],
            is_made_to_order=not row["is_stocked"],
            wanted=row["wanted"],
            in_time=row["in_time"],
            reason=miss_reason(facts[row["line_id"]]),
        )
        for row in rows
    )


def _counts(misses: Sequence[Miss]) -> tuple[ReasonCount, ...]:
    """Reasons by units, the greatest first."""
    lines, units = Counter(miss.reason for miss in misses), Counter[str]()
    for miss in misses:
        units[miss.reason] += miss.missed
    ranked = sorted(lines, key=lambda reason: (-units[reason], reason))
    return tuple(ReasonCount(reason=reason, lines=lines[reason], units=units[reason]) for reason in ranked)
