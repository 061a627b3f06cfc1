"""Totals of days and weeks, added by hand."""

from __future__ import annotations

from datetime import date

import pytest

from stockplan.planner.core.replay.records import Count, DayRecord, LineUse, ReplayTotals, by_week

FRIDAY, MONDAY = date(2027, 3, 5), date(2027, 3, 8)


def _day(day: date, *, kept: int, stock: float, late: int = 0) -> DayRecord:
    count = Count(10, kept)
    use = LineUse(available_min=100, winding_min=60, changeover_min=15, purge_kg=2.5, runs=3)
    return DayRecord(day, count, count, count, stock_value=stock, stock_units=int(stock), late_orders=late, use=use)


def test_totals_add_counts_and_line_time_and_average_stock() -> None:
    total = ReplayTotals.of([_day(FRIDAY, kept=9, stock=100, late=1), _day(MONDAY, kept=7, stock=50, late=2)])
    assert (total.orders, total.orders.share) == (Count(20, 16), 0.8)
    assert (total.mean_stock_value, total.late_orders) == (75.0, 2)
    assert total.use == LineUse(200, 120, 30, 5.0, 6)
    assert total.use.idle_min == 50


def test_weeks_are_those_of_the_calendar() -> None:
    weeks = by_week([_day(FRIDAY, kept=9, stock=1), _day(MONDAY, kept=7, stock=1)])
    assert [(week.first_day, week.orders.kept) for week in weeks] == [(FRIDAY, 9), (MONDAY, 7)]


def test_share_of_nothing_is_none() -> None:
    assert Count().share is None


def test_totals_of_no_day_are_refused() -> None:
    with pytest.raises(ValueError, match="no ship day"):
        ReplayTotals.of([])
