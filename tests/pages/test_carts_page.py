"""A cart by its bar code, from the line to the shelf."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date

import pytest
import time_machine
from django.test import Client

from inventory.models import Cart, Lot, Run
from inventory.selectors.carts import cart_row
from inventory.selectors.finishing import finishing_board
from inventory.services.carts import put_on_cart
from inventory.services.places import ensure_places
from stockplan.planner.pages.oven import shelf_hours
from tests.inventory.books.reading import lying, shelf
from tests.inventory.builders import TinyPlant, build_supply, build_tiny_plant, local, put_on_shelf
from tests.pages.conftest import log_in_again

LogIn = Callable[[str], Client]


@pytest.fixture
def tiny(db: None) -> TinyPlant:
    ensure_places()
    return build_tiny_plant()


@pytest.fixture
def lot(tiny: TinyPlant) -> Iterator[str]:
    """The lot of 38 spools of the finished run R1 that wait for the oven on Monday at 17:00, and a cart."""
    Cart.objects.create(code="C1")
    output = build_supply(tiny, sku=tiny.black_1kg, quantity=38, shelf_day=date(2027, 3, 2), code="R1")
    Run.objects.update(state="finished", started_at=local("2027-03-01 07:00"), finished_at=local("2027-03-01 14:00"))
    lot = put_on_shelf(tiny.black_1kg, 38, lot_code="R1-BLACK", place_kind="wound")
    Lot.objects.filter(pk=lot.pk).update(run=output.run)
    with time_machine.travel(local("2027-03-01 17:00"), tick=False):
        yield lot.code


@pytest.fixture
def floor(lot: str, logged_in: LogIn) -> Client:
    return logged_in("floor")


def _put(client: Client, lot: str, spools: str = "20") -> str:
    return client.post("/admin/carts/C1/put/", {f"spools {lot}": spools}, follow=True).text


def test_scan_of_a_cart_leads_to_it(floor: Client) -> None:
    assert floor.get("/admin/carts/", {"code": " C1 "})["Location"] == "/admin/carts/C1/"
    assert "Cart &#x27;C9&#x27; does not exist." in floor.get("/admin/carts/", {"code": "C9"}, follow=True).text


def test_cart_goes_from_line_to_shelf(tiny: TinyPlant, floor: Client, lot: str) -> None:
    assert "20 spools are on C1." in _put(floor, lot)
    floor.post("/admin/ovens/O1/load-carts/", {"carts": "C1\n"})
    # In the oven since 17:00, for six hours.
    assert "dry at <strong>Mon 1 Mar 23:00</strong>" in floor.get("/admin/carts/C1/").text
    with time_machine.travel(local("2027-03-02 08:00"), tick=False):
        log_in_again(floor, "floor")
        assert "Before you open an oven" in floor.get("/admin/carts/C1/").text
        assert "out of the oven" in floor.post("/admin/carts/C1/unload/", follow=True).text
        assert "the cart is empty" in floor.post("/admin/carts/C1/pack/", follow=True).text
    assert (shelf(tiny.black_1kg)[0], cart_row("C1").rows) == (20, ())


@pytest.mark.parametrize("step", ["unload", "pack"])
def test_step_out_of_turn_is_refused_with_a_sentence(floor: Client, lot: str, step: str) -> None:
    answer = floor.post(f"/admin/carts/C1/{step}/")
    assert (answer.status_code, "Nothing was written:" in answer.text) == (422, True)


def test_more_spools_than_wait_are_not_put_on_a_cart(tiny: TinyPlant, floor: Client, lot: str) -> None:
    assert "at most 38 spools" in _put(floor, lot, "39")
    assert (cart_row("C1").rows, lying(tiny.black_1kg, "wound")) == ((), 38)


def test_unknown_cart_or_oven_loads_nothing(floor: Client, lot: str) -> None:
    _put(floor, lot)
    for path, carts in (("O1", "C9"), ("O9", "C1"), ("O1", "")):
        answer = floor.post(f"/admin/ovens/{path}/load-carts/", {"carts": carts}, follow=True)
        assert "Nothing was written:" in answer.text
    assert cart_row("C1").load_code is None


def test_who_may_not_report_may_look(floor: Client, lot: str, logged_in: LogIn) -> None:
    planner = logged_in("planner")
    assert "Put wound spools on it" not in planner.get("/admin/carts/C1/").text
    assert planner.post("/admin/carts/C1/put/", {f"spools {lot}": "1"}).status_code == 403


def test_unknown_cart_or_step_is_not_found(floor: Client) -> None:
    assert [floor.get("/admin/carts/C9/").status_code, floor.post("/admin/carts/C1/fly/").status_code] == [404, 404]


def test_label_of_a_cart_is_a_pdf(floor: Client) -> None:
    answer = floor.get("/admin/labels/carts/C1.pdf", {"width": "62", "height": "29"})
    assert (answer["Content-Type"], answer.content[:4]) == ("application/pdf", b"%PDF")


def test_oven_page_says_what_is_shelf_ready_at_what_hour(floor: Client, lot: str) -> None:
    [before] = shelf_hours(finishing_board())
    assert (before.is_now, before.spools) == (False, 38)
    _put(floor, lot)
    floor.post("/admin/ovens/O1/load-carts/", {"carts": "C1"})
    with time_machine.travel(local("2027-03-02 08:00"), tick=False):
        log_in_again(floor, "floor")
        floor.post("/admin/carts/C1/unload/")
        now, later = shelf_hours(finishing_board())
        assert [(hour.is_now, hour.spools) for hour in (now, later)] == [(True, 20), (False, 18)]
        assert '<th scope="row" class="nowrap">now</th>' in floor.get("/admin/ovens/").text


def test_oven_page_tells_the_carts_with_spools_apart_from_the_empty_ones(floor: Client, lot: str) -> None:
    Cart.objects.create(code="C2")
    put_on_cart(cart_code="C1", spools={lot: 20})
    text = floor.get("/admin/ovens/").text
    assert text.count("waits for an oven") == 1
    assert '">C2</a>' in text.split("Empty:")[1].split("</p>")[0]
    assert '">C1</a>' in text.split("Empty:")[0]


def test_load_says_the_day_on_which_it_is_dry(floor: Client, lot: str) -> None:
    put_on_cart(cart_code="C1", spools={lot: 20})
    # Typed in small letters, as people do; six hours from Monday 17:00.
    text = floor.post("/admin/ovens/O1/load-carts/", {"carts": "c1"}, follow=True).text
    assert "O1 is loaded; dry at Mon 1 Mar 23:00." in text
    assert floor.get("/admin/carts/?code=c1")["Location"] == "/admin/carts/C1/"


def test_one_spool_is_one_and_not_several(floor: Client, lot: str) -> None:
    assert "1 spool is on C1." in floor.post("/admin/carts/C1/put/", {f"spools {lot}": "1"}, follow=True).text
    assert "2 spools are on C1." in floor.post("/admin/carts/C1/put/", {f"spools {lot}": "2"}, follow=True).text


def test_spools_on_carts_are_offered_with_their_carts_and_not_by_number(floor: Client, lot: str) -> None:
    put_on_cart(cart_code="C1", spools={lot: 20})
    before = floor.get("/admin/ovens/").text
    assert f'name="spools {lot}" min="0" max="18" value="18"' in before
    assert "18<br><small>and 20 on carts</small>" in before
    assert 'On carts that wait: <a href="/admin/carts/C1/">C1</a> (20 spools)' in before
    assert f'name="spools {lot}" min="0" max="18"' in floor.get("/admin/carts/C1/").text
    floor.post("/admin/ovens/O1/load-carts/", {"carts": "C1"})
    with time_machine.travel(local("2027-03-02 08:00"), tick=False):
        log_in_again(floor, "floor")
        floor.post("/admin/carts/C1/unload/")
        after = floor.get("/admin/ovens/").text
        assert 'By cart: <a href="/admin/carts/C1/">C1</a> (20 spools)' in after
        assert "Nothing is dry and waits to be packed." not in after
        assert "These are on the shelf" not in after
