"""How right the records are, and which SKU to count next. Sums by hand; common practice, no source."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import pytest

from inventory.models import Sku
from inventory.rules.counting import ValueClass
from inventory.rules.order_draft import OrderDraft
from inventory.selectors.counting import classes_of_skus, count_accuracy, next_counts
from inventory.services.amendments import cancel_order
from inventory.services.orders import place_order
from inventory.services.scrap import scrap
from tests.inventory.books.count_sheets import NATURAL, count, opened
from tests.inventory.books.floor import KG, QUARTER
from tests.inventory.builders import TinyPlant, clock, local, put_on_shelf

pytestmark = pytest.mark.django_db


def test_accuracy_is_told_by_place_and_by_class(shelved: TinyPlant, order: Callable[..., int]) -> None:
    # Black 1 kg is all the demand there is, so it is class A and the rest C.
    order("A", {shelved.black_1kg: 1})
    sheet = opened(KG, QUARTER, NATURAL)
    count(sheet, 20)
    count(sheet, 20, sku=QUARTER)
    for hour in ("12", "13"):
        count(sheet, 8, sku=NATURAL, at=clock(f"2027-03-01 {hour}:00"))
    accuracy = count_accuracy(first=local("2027-03-01 00:00"), last=local("2027-03-02 00:00"))
    assert [(row.group, row.counted_lines, row.exact_lines) for row in accuracy.by_place] == [
        ("A-01", 2, 2),
        ("B-02", 1, 0),
    ]
    assert [(row.group, row.counted_lines, row.net_spools) for row in accuracy.by_class] == [("A", 1, 0), ("C", 2, -2)]


def test_accuracy_counts_its_days_only(shelved: TinyPlant) -> None:
    count(opened(), 20)
    assert count_accuracy(first=local("2027-03-01 12:00"), last=local("2027-03-01 12:01")).by_class != ()
    assert count_accuracy(first=local("2027-03-01 12:01"), last=local("2027-03-02 00:00")).by_class == ()
    assert count_accuracy(first=local("2027-03-01 00:00"), last=local("2027-03-01 12:00")).by_class == ()


def _next(at: str = "2027-03-01 15:00") -> list[tuple[str, int]]:
    return [(row.sku_code, row.movements) for row in next_counts(as_of=local(at), limit=10)]


def test_sku_with_more_order_lines_is_counted_first(shelved: TinyPlant, order: Callable[..., int]) -> None:
    order("A", {shelved.natural_1kg: 1})
    order("B", {shelved.natural_1kg: 1, shelved.black_250g: 1})
    assert _next() == [(NATURAL, 1), (QUARTER, 1), (KG, 1)]


def test_risk_is_the_chance_of_a_wrong_record_times_its_order_lines(
    shelved: TinyPlant, order: Callable[..., int]
) -> None:
    order("A", {shelved.natural_1kg: 1})
    first = next_counts(as_of=local("2027-03-01 15:00"), limit=1)[0]
    # Nothing was counted: 1 in 100; one movement; one line in 91 days.
    assert (first.chance_wrong, first.order_lines_per_day) == pytest.approx((0.01, 1 / 91))
    assert first.risk == pytest.approx(0.01 / 91)
    assert first.reason == (
        "1 movement and never counted: wrong by a chance of 1%, and 0.01 order lines a day rely on it."
    )


def test_more_movements_make_a_count_more_urgent(shelved: TinyPlant) -> None:
    for hour in ("11:00", "11:30"):
        scrap(item_code=QUARTER, quantity=1, clock=clock(f"2027-03-01 {hour}"), reason="torn")
    assert _next() == [(QUARTER, 3), (NATURAL, 1), (KG, 1)]


def test_counted_sku_comes_last_until_it_moves(shelved: TinyPlant) -> None:
    count(opened(NATURAL), 10, sku=NATURAL)
    assert _next()[-1] == (NATURAL, 0)
    scrap(item_code=NATURAL, quantity=1, clock=clock("2027-03-01 13:00"), reason="torn")
    assert dict(_next())[NATURAL] == 1


def test_wrong_count_makes_every_record_less_trusted(shelved: TinyPlant) -> None:
    sheet = opened(NATURAL)
    count(sheet, 8, sku=NATURAL)
    count(sheet, 8, sku=NATURAL, at=clock("2027-03-01 13:00"))
    chances = {row.sku_code: row.chance_wrong for row in next_counts(as_of=local("2027-03-01 15:00"), limit=10)}
    # One wrong count after one movement: 2 in 101.
    assert chances[KG] == pytest.approx(2 / 101)


def test_sku_on_an_open_sheet_is_not_named_again(shelved: TinyPlant) -> None:
    opened(KG)
    assert [code for code, _ in _next()] == [NATURAL, QUARTER]


def test_what_to_count_is_read_as_it_was_known(shelved: TinyPlant, order: Callable[..., int]) -> None:
    count(opened(NATURAL), 10, sku=NATURAL)
    order("A", {shelved.black_250g: 1}, at="2027-03-01 14:00")
    assert dict(_next("2027-03-01 11:00"))[NATURAL] == 1
    assert next_counts(as_of=local("2027-03-01 11:00"), limit=1)[0].order_lines_per_day == 0


def test_what_to_count_costs_the_same_queries_for_one_sku_and_twenty(
    plant: TinyPlant, many_skus: list[Sku], queries_of: Callable[..., int]
) -> None:
    put_on_shelf(plant.black_1kg, 5)
    ask = partial(next_counts, as_of=local("2027-03-01 15:00"), limit=100)
    one = queries_of(ask)
    for sku in many_skus:
        put_on_shelf(sku, 5)
    assert queries_of(ask) == one


def test_class_counts_what_the_shop_took_back_but_not_what_a_customer_did_or_what_is_kept(
    shelved: TinyPlant, order: Callable[..., int]
) -> None:
    # Of equal value; the most valuable demand is class A, the next C, as it begins beyond 95 % of the value.
    Sku.objects.update(value=1)
    taken_back = {"shop": shelved.black_1kg, "customer": shelved.black_250g}
    for by, sku in taken_back.items():
        cancel_order(order_id=order(by, {sku: 3}), by=by, clock=clock("2027-03-01 10:00"))
    kept = OrderDraft(
        "WEB", "K", [(NATURAL, 5)], kind="kept", kept_until=local("2027-03-01 12:00"), ship_to="Mill Lane"
    )
    place_order(body=kept, clock=clock("2027-03-01 10:00"))
    codes = dict(Sku.objects.values_list("pk", "item__code"))
    classes = {codes[pk]: str(found) for pk, found in classes_of_skus(as_of=local("2027-03-01 15:00")).items()}
    assert classes == {KG: "A", QUARTER: "C", NATURAL: "C"}
    # An hour before the order came in nothing was asked for.
    assert set(classes_of_skus(as_of=local("2027-03-01 08:00")).values()) == {ValueClass.C}
