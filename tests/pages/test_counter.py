"""An order at the counter: what is offered, what is put into it, what is taken, what the customer reads."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from django.test import Client
from django.utils import timezone

from inventory.models import Channel, Order
from tests.inventory.builders import build_sku
from tests.pages.counter_order import BLACK, FIELDS, put
from tests.pages.shown_plant import ShownPlant, add_filament, put_on_shelf

LogIn = Callable[[str], Client]


def test_counter_adds_up_what_is_put_into_the_order(sales: Client) -> None:
    put(sales, BLACK)
    put(sales, BLACK, "3")
    basket = sales.get("/admin/stock/").context["basket"]
    assert [(row.sku_code, spools) for row, spools in basket] == [(BLACK, 1 + 3)]


# Python refuses to read more than 4,300 digits as a number.
@pytest.mark.parametrize(
    ("code", "spools"), [("NO-SUCH", "1"), (BLACK, "2.5"), (BLACK, "-1"), (BLACK, "100001"), (BLACK, "9" * 4_301)]
)
def test_counter_puts_nothing_in_that_no_order_may_hold(sales: Client, code: str, spools: str) -> None:
    answer = sales.post("/admin/stock/put/", {"sku": code, f"spools {code}": spools}, follow=True)
    assert "Nothing was put into the order:" in answer.text
    assert answer.context["basket"] == []


def test_counter_goes_back_to_the_search_it_came_from(sales: Client) -> None:
    answer = sales.post("/admin/stock/put/", {"sku": BLACK, "q": "black 1.75", "page": "1"})
    assert answer["Location"] == "/admin/stock/?q=black+1.75&page=1"


def test_counter_keeps_what_is_written_in_the_order_when_more_is_put_into_it(sales: Client) -> None:
    put(sales, BLACK)
    written = {"reference": "C-7", "ship_to": "Zoe", "may_part_ship": "on", f"line {BLACK}": "5"}
    sales.post("/admin/stock/put/", {"sku": "PETG-NAT-1000", **written})
    answer = sales.get("/admin/stock/")
    basket = {row.sku_code: spools for row, spools in answer.context["basket"]}
    assert basket == {BLACK: 5, "PETG-NAT-1000": 1}
    assert [answer.context["form"][name].value() for name in ("reference", "ship_to", "may_part_ship")] == [
        "C-7",
        "Zoe",
        "on",
    ]


def test_counter_takes_the_order_and_shows_its_promise(sales: Client) -> None:
    put(sales, BLACK, "2")
    answer = sales.post("/admin/stock/take/", {**FIELDS, f"line {BLACK}": "2"}, follow=True)
    order = Order.objects.get(reference="C-1")
    assert answer.redirect_chain == [(f"/admin/orders/{order.pk}/", 302)]
    assert [(line.sku.item.code, line.quantity) for line in order.lines.all()] == [(BLACK, 2)]
    # Ten lie there, two belong to another order.
    assert "2 on the shelf" in answer.text
    assert re.search(r"Ships complete on <strong>\w{3} \d+ \w{3}</strong>", answer.text)
    assert sales.get("/admin/stock/").context["basket"] == []


def test_counter_takes_an_order_sent_twice_once(sales: Client) -> None:
    put(sales, BLACK)
    first, second = (sales.post("/admin/stock/take/", {**FIELDS, f"line {BLACK}": "1"}) for _ in range(2))
    assert first["Location"] == second["Location"]
    assert Order.objects.filter(reference="C-1").count() == 1


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({f"line {BLACK}": "0"}, "Nothing was ordered:"),
        ({f"line {BLACK}": "two"}, "Nothing was ordered:"),
        ({"reference": "DUE-1"}, "Nothing was ordered:"),
        ({"reference": ""}, "This field is required."),
        ({"channel": "NO-SUCH"}, "Select a valid choice."),
        ({"wanted_day": "soon"}, "Enter a valid date."),
    ],
    ids=["no spools", "no number", "reference of another order", "no reference", "unknown channel", "no day"],
)
def test_counter_says_what_is_wrong_and_keeps_the_order(sales: Client, changed: dict[str, str], said: str) -> None:
    put(sales, BLACK, "2")
    before = Order.objects.count()
    answer = sales.post("/admin/stock/take/", {**FIELDS, f"line {BLACK}": "2", **changed})
    assert (answer.status_code, Order.objects.count()) == (422, before)
    assert said in answer.text
    assert len(answer.context["basket"]) == 1


def test_counter_keeps_what_was_typed_when_the_order_is_refused(sales: Client) -> None:
    put(sales, BLACK, "2")
    answer = sales.post("/admin/stock/take/", {**FIELDS, f"line {BLACK}": "7", "reference": "DUE-1"})
    assert f'name="line {BLACK}" min="0" value="7"' in answer.text


def test_counter_begins_anew(sales: Client) -> None:
    put(sales, BLACK)
    sales.post("/admin/stock/clear/")
    assert sales.get("/admin/stock/").context["basket"] == []


@pytest.mark.parametrize(
    "path", ["/admin/stock/put/", "/admin/stock/take/", "/admin/stock/keep/", "/admin/stock/clear/"]
)
@pytest.mark.parametrize("role", ["floor", "planner"])
def test_who_takes_no_orders_is_refused_at_the_counter(
    shown: ShownPlant, logged_in: LogIn, role: str, path: str
) -> None:
    client = logged_in(role)
    assert client.post(path, {"sku": BLACK}).status_code == 403
    assert "Into the order" not in client.get("/admin/stock/").text


def test_next_order_has_a_reference_of_its_own(sales: Client) -> None:
    put(sales, BLACK)
    first, again = (sales.get("/admin/stock/").context["form"]["reference"].value() for _ in range(2))
    sales.post("/admin/stock/clear/")
    put(sales, BLACK)
    assert first == again != sales.get("/admin/stock/").context["form"]["reference"].value()


def test_confirmation_says_what_nothing_is_planned_for(sales: Client, shown: ShownPlant) -> None:
    text = sales.get(f"/admin/orders/{shown.order_id}/").text
    assert "No ship day yet." in text
    assert "Neither on the shelf nor in a planned run: 1 of PLA-RUBY-1000 (spools)." in text
    assert "1 not planned yet" in text


def test_confirmation_of_an_unknown_order_is_not_found(sales: Client) -> None:
    assert sales.get("/admin/orders/999999/").status_code == 404


def test_part_of_the_page_is_the_finds_alone(sales: Client) -> None:
    text = sales.get("/admin/stock/", {"q": "black", "part": "found"}).text
    assert BLACK in text
    assert "<html" not in text
    assert "part=found" not in text


def test_what_is_short_comes_with_the_nearest_free_colour_and_other_sizes(shown: ShownPlant, sales: Client) -> None:
    # Sharma, Wu and Dalal (2005) hold the formula; by eye: of a red, a brighter red is nearer than a blue.
    size = shown.ruby_1kg.spool_size
    for number, (code, colour) in enumerate({"CHERRY": "#9E1B3A", "LAKE": "#1B3A8E"}.items()):
        filament = add_filament(shown.tiny, code, name=code.title(), colour_hex=colour)
        sku = build_sku(f"PLA-{code}-1000", filament=filament, size=size, number=50 + number, value="9")
        put_on_shelf(sku, spools=4, now=timezone.now())
    other_size = shown.tiny.black_250g.spool_size
    small = build_sku("PLA-RUBY-250", filament=shown.ruby, size=other_size, number=60, value="4")
    put_on_shelf(small, spools=6, now=timezone.now())
    answer = sales.get("/admin/stock/", {"q": "ruby 1000"})
    [row] = answer.context["rows"]
    other = answer.context["instead"][row.sku_id]
    assert [one.sku_code for one in other.nearest] == ["PLA-CHERRY-1000"]
    assert [(one.sku_code, one.free) for one in other.other_sizes] == [("PLA-RUBY-250", 6)]
    assert "Nearest colours that are free:" in answer.text


def test_what_is_free_comes_without_substitutes(sales: Client) -> None:
    assert "Nearest colours" not in sales.get("/admin/stock/", {"q": BLACK}).text


def test_confirmation_opens_as_a_letter(sales: Client, shown: ShownPlant) -> None:
    # RFC 6068: blanks as %20, lines parted by CR and LF.
    text = sales.get(f"/admin/orders/{shown.order_id}/").text
    address = re.search(r'href="(mailto:[^"]*)"', text)[1]
    assert "subject=Your%20order%20DUE-1" in address
    assert "2%20x%20" in address
    assert "%0D%0A" in address


def test_channel_is_chosen_once_and_proposed_from_then_on(sales: Client, shown: ShownPlant) -> None:
    Channel.objects.create(code="BENCH", name="Own printing room", hides_unavailable=False)
    put(sales, BLACK)
    # The first of the list would be taken by whoever does not look.
    assert '<option value="" selected>' in sales.get("/admin/stock/").text
    answer = sales.post("/admin/stock/take/", FIELDS | {"channel": "", f"line {BLACK}": "1"})
    assert (answer.status_code, Order.objects.filter(reference="C-1").exists()) == (422, False)
    assert sales.post("/admin/stock/take/", FIELDS | {f"line {BLACK}": "1"}).status_code == 302
    put(sales, BLACK)
    assert '<option value="WEB" selected>' in sales.get("/admin/stock/").text


def test_next_arrival_says_how_many_come_and_how_many_of_them_are_free(sales: Client, shown: ShownPlant) -> None:
    assert "6 spools, 6 free" in sales.get("/admin/stock/?q=PETG-NAT-1000").text


@pytest.mark.parametrize("path", ["/admin/stock/", "/admin/orders/{order}/", "/admin/due/"])
def test_pages_and_the_confirmation_say_whose_clock_their_times_are_of(
    sales: Client, shown: ShownPlant, path: str
) -> None:
    assert "Times are of the plant, Europe/Berlin." in sales.get(shown.fill_in(path)).text
