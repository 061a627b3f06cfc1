"""One order at the counter and two tabs that show it: what a tab shows as it was changes nothing."""

from __future__ import annotations

import pytest
from django.http import HttpResponse
from django.test import Client

from inventory.models import Order
from tests.pages.counter_order import BLACK, FIELDS, put

NATURAL = "PETG-NAT-1000"


@pytest.fixture
def seen_before(sales: Client) -> str:
    """What a tab shows that was opened before another one put two natural spools into the order of one black."""
    put(sales, BLACK)
    seen = str(sales.get("/admin/stock/").context["seen"])
    put(sales, NATURAL, "2")
    return seen


def basket(client: Client) -> dict[str, int]:
    return {row.sku_code: spools for row, spools in client.get("/admin/stock/").context["basket"]}


def send(client: Client, to: str, seen: str, **typed: str) -> HttpResponse:
    return client.post(f"/admin/stock/{to}/", {**FIELDS, f"line {BLACK}": "1", "seen": seen, **typed}, follow=True)


@pytest.mark.parametrize(
    ("to", "said"),
    [
        ("put", "Nothing was put into the order:"),
        ("take", "Nothing was ordered:"),
        ("keep", "Nothing is kept:"),
        ("clear", "The order was not begun anew:"),
    ],
)
def test_tab_that_shows_the_order_as_it_was_is_told_so_and_changes_nothing(
    sales: Client, seen_before: str, to: str, said: str
) -> None:
    orders = Order.objects.count()
    answer = send(sales, to, seen_before, sku=BLACK)
    assert f"{said} another tab of yours changed the order" in answer.text
    assert (basket(sales), Order.objects.count()) == ({BLACK: 1, NATURAL: 2}, orders)


def test_what_such_a_tab_shows_next_may_be_taken(sales: Client, seen_before: str) -> None:
    seen = str(send(sales, "take", seen_before).context["seen"])
    send(sales, "take", seen, **{f"line {NATURAL}": "2"})
    assert Order.objects.get(reference="C-1").lines.count() == 2


def test_what_was_typed_into_the_order_stays_when_a_tab_is_refused(sales: Client, seen_before: str) -> None:
    reference = str(sales.get("/admin/stock/").context["form"]["reference"].value())
    answer = send(sales, "take", seen_before, reference=reference, ship_to="Zoe")
    assert answer.context["form"]["ship_to"].value() == "Zoe"


def test_what_was_typed_into_another_order_does_not_come_into_this_one(sales: Client, seen_before: str) -> None:
    answer = send(sales, "take", seen_before, reference="OF-ANOTHER", ship_to="Zoe")
    assert answer.context["form"]["ship_to"].value() is None


def test_order_that_was_taken_is_shown_to_who_sends_it_again(sales: Client) -> None:
    put(sales, BLACK)
    seen = str(sales.get("/admin/stock/").context["seen"])
    first, second = (send(sales, "take", seen) for _ in range(2))
    assert first.redirect_chain == second.redirect_chain
    assert Order.objects.filter(reference="C-1").count() == 1


def test_order_that_another_tab_began_anew_is_not_taken(sales: Client) -> None:
    put(sales, BLACK)
    seen = str(sales.get("/admin/stock/").context["seen"])
    sales.post("/admin/stock/clear/")
    assert "Nothing was ordered:" in send(sales, "take", seen).text
    assert not Order.objects.filter(reference="C-1").exists()


def test_tab_that_showed_no_order_puts_nothing_into_one_begun_since(sales: Client) -> None:
    put(sales, BLACK)
    assert "Nothing was put into the order:" in send(sales, "put", "", sku=NATURAL).text
    assert basket(sales) == {BLACK: 1}
