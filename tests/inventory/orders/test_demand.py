"""Demand as tables, by hand. 2027-03-01 is a Monday; cut-off 13:40."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest

from inventory.models import Order, OrderLine, Sku
from inventory.selectors.demand import demand_frame, demand_frames, open_demand_frame, order_lines_frame
from inventory.selectors.plant import ship_calendar
from inventory.services.orders import amend_order, cancel_order
from inventory.services.shipments import ship_order
from tests.inventory.builders import clock, local

MONDAY, TUESDAY, WEDNESDAY, THURSDAY, FRIDAY = (date(2027, 3, day) for day in (1, 2, 3, 4, 5))


def frame_at(text, **asked):
    return demand_frame(as_of=local(text), calendar=ship_calendar(first=MONDAY, last=FRIDAY), **asked)


def test_demand_counts_on_due_days_and_zero_between(plant, order):
    order("A", {plant.black_1kg: 3})
    order("B", {plant.black_1kg: 2}, at="2027-03-01 13:40")
    order("C", {plant.black_1kg: 5}, at="2027-03-03 09:00")
    frame = frame_at("2027-03-04 14:00")
    assert list(frame.index) == [MONDAY, TUESDAY, WEDNESDAY, THURSDAY]
    assert frame[plant.black_1kg.pk].tolist() == [3, 2, 5, 0]
    assert frame[plant.natural_1kg.pk].tolist() == [0, 0, 0, 0]


def test_demand_leaves_out_the_day_that_is_still_taking_orders(plant, order):
    order("A", {plant.black_1kg: 3})
    order("B", {plant.black_1kg: 3}, at="2027-03-02 09:00")
    assert list(frame_at("2027-03-02 13:39").index) == [MONDAY]
    assert list(frame_at("2027-03-02 13:40").index) == [MONDAY, TUESDAY]


def test_demand_counts_what_the_shop_cancels_and_not_what_the_customer_cancels(plant, order):
    kept, gone = order("A", {plant.black_1kg: 3}), order("B", {plant.black_1kg: 4})
    cancel_order(order_id=kept.order_id, by="shop", clock=clock("2027-03-01 11:00"))
    cancel_order(order_id=gone.order_id, by="customer", clock=clock("2027-03-01 11:00"))
    assert frame_at("2027-03-02 09:00")[plant.black_1kg.pk].tolist() == [3]


def test_demand_follows_amendments_on_the_due_day_of_the_order(plant, order):
    placed = order("A", {plant.black_1kg: 3})
    amend_order(order_id=placed.order_id, lines=[("PLA-BLACK-1000", 5)], clock=clock("2027-03-02 09:00"))
    assert frame_at("2027-03-02 08:59")[plant.black_1kg.pk].tolist() == [3]
    assert frame_at("2027-03-02 09:00")[plant.black_1kg.pk].tolist() == [5]


def test_demand_is_unknown_while_the_sku_was_not_on_sale(plant, order):
    Sku.objects.filter(pk=plant.natural_1kg.pk).update(active_from=TUESDAY, active_to=WEDNESDAY)
    order("A", {plant.black_1kg: 3})
    column = frame_at("2027-03-04 14:00")[plant.natural_1kg.pk]
    assert np.isnan(column[[MONDAY, THURSDAY]]).all()
    assert column[[TUESDAY, WEDNESDAY]].tolist() == [0, 0]


def test_demand_keeps_project_orders_apart(plant, order):
    order("A", {plant.black_1kg: 3})
    order("B", {plant.black_1kg: 50}, kind="project")
    order("C", {plant.black_1kg: 2}, kind="own_use")
    assert frame_at("2027-03-02 09:00")[plant.black_1kg.pk].tolist() == [5]
    assert frame_at("2027-03-02 09:00", kinds=["project"])[plant.black_1kg.pk].tolist() == [50]


def test_demand_of_a_day_that_was_closed_since_counts_on_the_next_ship_day(plant, order):
    order("A", {plant.black_1kg: 3})
    calendar = ship_calendar(first=MONDAY, last=FRIDAY)
    closed = type(calendar)(zone=calendar.zone, day_rules=calendar.day_rules, closed_days=frozenset({MONDAY}))
    frame = demand_frame(as_of=local("2027-03-03 09:00"), calendar=closed)
    assert frame[plant.black_1kg.pk].tolist() == [3]
    assert list(frame.index) == [TUESDAY]


def test_demand_without_orders_is_an_empty_table_of_all_skus(plant):
    frame = frame_at("2027-03-03 09:00")
    assert frame.shape == (0, 3)


def test_demand_counts_no_orders_that_were_not_known(plant, order):
    order("A", {plant.black_1kg: 3})
    order("B", {plant.black_1kg: 3}, at="2027-03-02 09:00")
    assert frame_at("2027-03-01 14:00")[plant.black_1kg.pk].tolist() == [3]


def test_line_counts_are_of_the_lines_that_the_demand_comes_from(plant, order):
    Sku.objects.filter(pk=plant.natural_1kg.pk).update(active_from=TUESDAY)
    kept, gone = order("A", {plant.black_1kg: 3}), order("B", {plant.black_1kg: 4})
    order("C", {plant.black_1kg: 2, plant.natural_1kg: 1}, at="2027-03-02 09:00")
    cancel_order(order_id=kept.order_id, by="shop", clock=clock("2027-03-01 11:00"))
    cancel_order(order_id=gone.order_id, by="customer", clock=clock("2027-03-01 11:00"))
    order("D", {plant.black_1kg: 1}, at="2027-03-02 10:00")
    calendar = ship_calendar(first=MONDAY, last=THURSDAY)
    _, counts = demand_frames(as_of=local("2027-03-03 14:00"), calendar=calendar)
    assert counts[plant.black_1kg.pk].tolist() == [1, 2, 0]
    assert counts[plant.natural_1kg.pk].fillna(-1).tolist() == [-1, 1, 0]


def test_open_demand_is_what_is_ordered_and_not_shipped(plant, stock, order):
    stock(plant.black_1kg, 4)
    placed = order("A", {plant.black_1kg: 6}, may_part_ship=True)
    order("B", {plant.black_1kg: 1}, wanted_day=THURSDAY)
    ship_order(order_id=placed.order_id, clock=clock("2027-03-01 15:00"))
    rows = open_demand_frame(as_of=local("2027-03-01 15:30")).values.tolist()
    assert rows == [[plant.black_1kg.pk, MONDAY, 2, False], [plant.black_1kg.pk, THURSDAY, 1, False]]


def test_open_demand_is_late_after_the_pick_up_of_its_due_day(plant, order):
    order("A", {plant.black_1kg: 2})
    assert open_demand_frame(as_of=local("2027-03-01 16:00"))["is_late"].tolist() == [False]
    assert open_demand_frame(as_of=local("2027-03-01 16:01"))["is_late"].tolist() == [True]


def test_open_demand_of_the_past_knows_no_later_shipment(plant, stock, order):
    stock(plant.black_1kg, 6)
    placed = order("A", {plant.black_1kg: 6})
    ship_order(order_id=placed.order_id, clock=clock("2027-03-01 15:00"))
    assert open_demand_frame(as_of=local("2027-03-01 14:59"))["quantity"].tolist() == [6]
    assert open_demand_frame(as_of=local("2027-03-01 15:00")).empty


@pytest.mark.parametrize("by", ["customer", "shop"])
def test_open_demand_has_no_cancelled_orders(plant, order, by):
    placed = order("A", {plant.black_1kg: 2})
    cancel_order(order_id=placed.order_id, by=by, clock=clock("2027-03-01 11:00"))
    assert open_demand_frame(as_of=local("2027-03-01 12:00")).empty


def test_order_lines_come_as_they_were_wanted(plant, order):
    first = order("A", {plant.black_1kg: 3, plant.natural_1kg: 1})
    second = order("B", {plant.black_1kg: 4}, at="2027-03-01 11:00", kind="project")
    cancel_order(order_id=first.order_id, by="shop", clock=clock("2027-03-01 12:00"))
    frame = order_lines_frame(as_of=local("2027-03-01 13:00"))
    assert frame["order_id"].tolist() == [first.order_id, first.order_id, second.order_id]
    assert frame["quantity"].tolist() == [3, 1, 4]
    assert frame["kind"].tolist() == ["regular", "regular", "project"]
    assert set(frame["channel"]) == {"WEB"}
    assert order_lines_frame(as_of=local("2027-03-01 13:00"), kinds=["project"])["quantity"].tolist() == [4]


def test_order_lines_are_those_received_since_an_instant(plant, order):
    order("A", {plant.black_1kg: 3})
    second = order("B", {plant.black_1kg: 4}, at="2027-03-01 11:00")
    frame = order_lines_frame(as_of=local("2027-03-01 13:00"), received_since=local("2027-03-01 11:00"))
    assert frame["order_id"].tolist() == [second.order_id]


def test_order_lines_leave_out_what_the_customer_cancelled(plant, order):
    placed = order("A", {plant.black_1kg: 3})
    cancel_order(order_id=placed.order_id, by="customer", clock=clock("2027-03-01 12:00"))
    assert len(order_lines_frame(as_of=local("2027-03-01 11:59"))) == 1
    assert order_lines_frame(as_of=local("2027-03-01 12:00")).empty


@pytest.fixture
def history(plant):
    """An order that was loaded with its outcome: due on Monday, left on Tuesday."""

    def load(reference="OLD", *, shipped_day=TUESDAY, quantity=7):
        at = local("2027-03-01 10:00")
        row = Order.objects.create(
            channel=plant.channel,
            reference=reference,
            received_at=at,
            known_at=at,
            due_day=MONDAY,
            state="shipped",
            is_history=True,
            body_digest="0" * 64,
            closed_at=at + timedelta(days=1),
            closed_known_at=at + timedelta(days=1),
        )
        line = OrderLine.objects.create(
            order=row,
            line_no=1,
            sku=plant.black_1kg,
            quantity=quantity,
            shipped=quantity,
            shipped_complete_day=shipped_day,
        )
        line.changes.create(delta=quantity, reason="placed", occurred_at=at, known_at=at)
        return line

    return load


def test_demand_counts_history(history, plant):
    history()
    assert frame_at("2027-03-02 09:00")[plant.black_1kg.pk].tolist() == [7]


def test_open_demand_has_history_only_until_it_left(history):
    history()
    assert open_demand_frame(as_of=local("2027-03-02 15:59"))["quantity"].tolist() == [7]
    assert open_demand_frame(as_of=local("2027-03-02 16:01")).empty


def test_frames_have_their_columns_when_empty(plant):
    at = local("2027-03-01 10:00")
    assert list(open_demand_frame(as_of=at).columns) == ["sku_id", "due_day", "quantity", "is_late"]
    assert list(order_lines_frame(as_of=at).columns) == [
        "order_id",
        "received_at",
        "due_day",
        "sku_id",
        "quantity",
        "kind",
        "channel",
    ]
    assert isinstance(order_lines_frame(as_of=at), pd.DataFrame)
