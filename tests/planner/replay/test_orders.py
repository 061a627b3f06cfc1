"""The desk of a replay: what is known when, and who is served. Counts are done by hand."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from stockplan.planner.core.replay.orders import LineChange, OrderDesk, OrderHistory, ReplayOrder
from stockplan.planner.core.replay.records import Count
from tests.planner.small_facts import MONDAY

DAY = date(2027, 3, 1)
NEXT = DAY + timedelta(days=1)


def _order(code: int, *, due: date = DAY, **fields: Any) -> ReplayOrder:
    figures: dict[str, Any] = {"received_at": MONDAY + timedelta(minutes=code), "may_part_ship": False}
    return ReplayOrder(code=code, due_day=due, **(figures | {"is_counted": True} | fields))


def _desk(orders: list[ReplayOrder], *lines: tuple[int, str, int], known_at: datetime = MONDAY) -> OrderDesk:
    """A desk that has learned the lines (order, SKU, units)."""
    desk = OrderDesk(OrderHistory({o.code: o for o in orders}, tuple(LineChange(known_at, *line) for line in lines)))
    desk.learn(known_at)
    return desk


def test_order_that_is_due_first_is_served_first() -> None:
    desk, shelf = _desk([_order(1), _order(2, due=DAY - timedelta(days=3))], (1, "A", 2), (2, "A", 2)), {"A": 3}
    desk.ship(DAY, shelf)
    assert (shelf, desk.left) == ({"A": 1}, {1: {"A": 2}})


def test_order_that_was_received_first_is_served_first_when_due_days_are_equal() -> None:
    desk, shelf = _desk([_order(2), _order(1)], (2, "A", 1), (1, "A", 1)), {"A": 1}
    desk.ship(DAY, shelf)
    assert list(desk.left) == [2]


def test_order_leaves_only_complete_and_keeps_what_it_found() -> None:
    desk, shelf = _desk([_order(1), _order(2)], (1, "A", 2), (1, "B", 1), (2, "A", 1)), {"A": 2}
    desk.ship(DAY, shelf)
    assert (shelf, sorted(desk.left)) == ({"A": 2}, [1, 2])
    shelf["B"] = 1
    desk.ship(NEXT, shelf)
    assert (shelf, desk.left) == ({"A": 0, "B": 0}, {2: {"A": 1}})


def test_order_that_may_part_ship_leaves_with_what_is_there() -> None:
    desk, shelf = _desk([_order(1, may_part_ship=True)], (1, "A", 2), (1, "B", 1)), {"A": 1, "B": 1}
    desk.ship(DAY, shelf)
    assert (shelf, desk.left) == ({"A": 0, "B": 0}, {1: {"A": 1}})
    assert desk.counted(DAY) == (Count(1, 0), Count(2, 1), Count(3, 2))


def test_order_due_on_a_later_day_is_not_shipped() -> None:
    desk, shelf = _desk([_order(1, due=NEXT)], (1, "A", 1)), {"A": 1}
    desk.ship(DAY, shelf)
    assert (shelf, desk.left) == ({"A": 1}, {1: {"A": 1}})


def test_change_is_not_seen_before_it_was_known() -> None:
    changes = (LineChange(MONDAY, 1, "A", 1), LineChange(MONDAY + timedelta(hours=2), 1, "A", 4))
    desk = OrderDesk(OrderHistory({1: _order(1)}, changes))
    desk.learn(MONDAY + timedelta(hours=1))
    assert desk.left == {1: {"A": 1}}
    desk.learn(MONDAY + timedelta(hours=2))
    assert desk.left == {1: {"A": 5}}


def test_order_cancelled_by_its_customer_counts_nowhere() -> None:
    desk = _desk([_order(1), _order(2)], (1, "A", 3), (2, "A", 1), (1, "A", -3))
    assert desk.left == {2: {"A": 1}}
    assert desk.counted(DAY)[0] == Count(1, 0)


def test_cancellation_after_shipping_takes_nothing_back() -> None:
    desk, shelf = _desk([_order(1)], (1, "A", 3)), {"A": 3}
    desk.ship(DAY, shelf)
    desk.history = OrderHistory(desk.history.orders, (*desk.history.changes, LineChange(MONDAY, 1, "A", -3)))
    desk.learn(MONDAY)
    assert (desk.left, desk.counted(DAY)[2]) == ({}, Count(3, 3))


def test_order_that_is_not_counted_ships_and_is_in_no_share() -> None:
    desk, shelf = _desk([_order(1, is_counted=False)], (1, "A", 1)), {"A": 1}
    desk.ship(DAY, shelf)
    assert (shelf, desk.counted(DAY)[0]) == ({"A": 0}, Count(0, 0))


def test_open_units_are_late_before_the_first_day_and_cumulated_after() -> None:
    orders = [_order(1, due=DAY - timedelta(days=1)), _order(2), _order(3, due=NEXT)]
    late, due = _desk(orders, (1, "A", 1), (2, "A", 2), (3, "B", 4)).open_units(["A", "B"], [DAY, NEXT])
    np.testing.assert_array_equal(late, [1, 0])
    np.testing.assert_array_equal(due, [[2, 2], [0, 4]])


def test_history_is_refused_when_changes_are_out_of_order() -> None:
    changes = (LineChange(MONDAY + timedelta(hours=1), 1, "A", 1), LineChange(MONDAY, 1, "A", 1))
    with pytest.raises(ValueError, match="order in which they became known"):
        OrderHistory({1: _order(1)}, changes)
