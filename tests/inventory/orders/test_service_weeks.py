"""The promise week by week, by hand. 2027-03-01 is a Monday; cut-off 13:40, pick-up 16:00."""

from __future__ import annotations

from datetime import date

from inventory.rules.service import Share
from inventory.selectors.service import service_report
from inventory.selectors.service_weeks import service_history
from inventory.services.shipments import ship_order
from tests.inventory.builders import clock, local

FIRST_MONDAY, SECOND_MONDAY, SECOND_SUNDAY = date(2027, 3, 1), date(2027, 3, 8), date(2027, 3, 14)
AS_OF = local("2027-03-12 18:00")


def history():
    return service_history(first_monday=FIRST_MONDAY, weeks=2, as_of=AS_OF)


def test_each_week_counts_what_was_due_in_it(plant, stock, order):
    stock(plant.black_1kg, 3)
    kept = order("KEPT", {plant.black_1kg: 3})
    ship_order(order_id=kept.order_id, clock=clock("2027-03-01 15:00"))
    order("MISSED", {plant.black_1kg: 2}, wanted_day=date(2027, 3, 9))
    first, second = history().weeks
    assert (first.monday, first.stocked.orders, first.stocked.units) == (FIRST_MONDAY, Share(1, 1), Share(3, 3))
    assert (second.monday, second.stocked.orders, second.stocked.units) == (SECOND_MONDAY, Share(0, 1), Share(0, 2))


def test_friday_and_the_monday_after_it_fall_into_different_weeks(plant, order):
    order("FRIDAY", {plant.black_1kg: 1}, wanted_day=date(2027, 3, 5))
    order("MONDAY", {plant.black_1kg: 1}, wanted_day=SECOND_MONDAY)
    assert [week.stocked.orders.due for week in history().weeks] == [1, 1]


def test_week_without_orders_has_no_share(plant):
    assert [week.stocked.orders.share for week in history().weeks] == [None, None]


def test_weeks_and_report_stand_on_the_same_lines(plant, stock, order):
    order("A", {plant.black_1kg: 1})
    order("B", {plant.natural_1kg: 2}, wanted_day=date(2027, 3, 10))
    shown = history()
    assert shown.report == service_report(first=FIRST_MONDAY, last=SECOND_SUNDAY, as_of=AS_OF)
    assert sum(week.stocked.units.due for week in shown.weeks) == shown.report.stocked.units.due == 3
