"""The share of a window in which a SKU could be sold, by hand. 2027-03-01 is a Monday; cut-off 13:40."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.models import Channel
from inventory.rules.order_draft import OrderDraft
from inventory.rules.sellable import StockSteps, sellable_share
from inventory.selectors.plant import ship_calendar
from inventory.selectors.sellable import sellable_frame
from inventory.services.orders import place_order
from inventory.services.shipments import ship_order
from tests.inventory.builders import clock, local

DAYS = [date(2027, 3, day) for day in (1, 2, 3, 4)]
STEP = st.tuples(st.integers(0, 2), st.integers(0, 40), st.integers(-3, 3))


def _steps(*rows: tuple[int, float, float]) -> StockSteps:
    sku, at_s, spools = np.array(rows, dtype=float).reshape(-1, 3).T
    return StockSteps(sku.astype(np.int64), at_s, spools)


def test_share_is_the_time_with_something_free() -> None:
    # 2 at 0, none from 15 on, one again from 25 on; windows 0-10, 10-20, 20-40.
    steps = _steps((0, 15.0, -2.0), (0, 0.0, 2.0), (0, 25.0, 1.0))
    share = sellable_share(steps, bounds_s=np.array([0.0, 10.0, 20.0, 40.0]), n_skus=2)
    np.testing.assert_allclose(share[:, 0], [1.0, 0.5, 0.75])
    np.testing.assert_allclose(share[:, 1], [1.0, 1.0, 1.0])


def test_sku_counts_as_sellable_before_its_first_step() -> None:
    share = sellable_share(_steps((0, 15.0, 0.0)), bounds_s=np.array([0.0, 10.0, 20.0, 30.0]), n_skus=1)
    np.testing.assert_allclose(share[:, 0], [1.0, 0.5, 0.0])


@given(rows=st.lists(STEP, max_size=30))
def test_share_equals_a_look_at_every_second(rows: list[tuple[int, int, int]]) -> None:
    bounds = np.array([0.0, 7.0, 20.0, 36.0])
    share = sellable_share(_steps(*rows), bounds_s=bounds, n_skus=3)
    for sku in range(3):
        own = [(at, spools) for s, at, spools in rows if s == sku]
        free = [not own or t < min(own)[0] or sum(n for at, n in own if at <= t) > 0 for t in range(36)]
        np.testing.assert_allclose(share[:, sku], [np.mean(free[a:b]) for a, b in ((0, 7), (7, 20), (20, 36))])


@pytest.fixture
def hiding(plant, stock, order):
    """Three spools of black from Monday 08:00, all ordered at once on Tuesday 13:40, two more on Wednesday 01:40."""
    Channel.objects.update(hides_unavailable=True)
    stock(plant.black_1kg, 3, at="2027-03-01 08:00")
    placed = order("ALL", {plant.black_1kg: 3}, at="2027-03-02 13:40")
    ship_order(order_id=placed.order_id, clock=clock("2027-03-02 15:00"))
    stock(plant.black_1kg, 2, at="2027-03-03 01:40")
    return plant


def _frame(plant, text: str):
    sku_ids = [plant.black_1kg.pk, plant.natural_1kg.pk]
    return sellable_frame(
        as_of=local(text), calendar=ship_calendar(first=DAYS[0], last=DAYS[-1]), days=DAYS, sku_ids=sku_ids
    )


def test_sku_can_be_sold_while_something_is_free(hiding):
    # Tuesday 13:40 to Wednesday 13:40 is Wednesday's window; nothing was free for its first twelve hours.
    frame = _frame(hiding, "2027-03-04 14:00")
    np.testing.assert_allclose(frame[hiding.black_1kg.pk], [1.0, 1.0, 0.5, 1.0])
    np.testing.assert_allclose(frame[hiding.natural_1kg.pk], 1.0)


def test_what_was_not_known_yet_is_not_used(hiding):
    # On Wednesday at 01:39 the two spools are not known: nothing is free any more, as far as anybody knows.
    np.testing.assert_allclose(_frame(hiding, "2027-03-03 01:39")[hiding.black_1kg.pk], [1.0, 1.0, 0.0, 0.0])


def test_channel_that_shows_everything_hides_nothing(hiding):
    Channel.objects.update(hides_unavailable=False)
    assert (_frame(hiding, "2027-03-04 14:00") == 1.0).all(axis=None)


def test_channel_hides_its_own_share_of_the_demand(hiding):
    Channel.objects.create(code="DESK", name="sales desk")
    body = OrderDraft(channel_code="DESK", reference="1", lines=[(hiding.natural_1kg.item.code, 1)])
    place_order(body=body, clock=clock("2027-03-03 09:00"))
    # Three of four units came through the shop: it could be sold in 1 - 3/4 x 1/2 of Wednesday's window.
    np.testing.assert_allclose(_frame(hiding, "2027-03-04 14:00")[hiding.black_1kg.pk], [1.0, 1.0, 0.625, 1.0])
