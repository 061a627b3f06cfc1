"""Carts over the API: which there are, what stands on them, and where they are."""

from __future__ import annotations

import pytest

from inventory.models import Cart
from inventory.services.carts import load_carts, put_on_cart, unload_cart
from tests.api.calls import get, post
from tests.api.floor.reports import BLACK, OVEN, PACK, finish
from tests.api.test_query_counts import queries
from tests.inventory.builders import clock

EVENING, MORNING = OVEN[:16].replace("T", " "), PACK[:16].replace("T", " ")


@pytest.fixture
def lot(replay, run):
    """Two spools of the lot on the first of two carts."""
    Cart.objects.bulk_create([Cart(code="C1"), Cart(code="C2")])
    finish(replay, run)
    put_on_cart(cart_code="C1", spools={f"{run}-{BLACK}": 2})
    return f"{run}-{BLACK}"


def test_carts_tell_what_stands_on_them(replay, lot):
    empty = {"load": None, "oven": None, "ready_at": None, "is_out": False, "spools": []}
    full = empty | {"cart": "C1", "spools": [{"lot": lot, "sku": BLACK, "quantity": 2}]}
    assert get(replay, "/carts/")["results"] == [full, empty | {"cart": "C2"}]


def test_cart_tells_its_oven_and_when_it_is_dry_until_it_is_packed(replay, lot):
    load_carts(oven_code="O1", cart_codes=["C1"], clock=clock(EVENING))
    row = get(replay, "/carts/", limit=1)["results"][0]
    assert (row["oven"], row["ready_at"], row["is_out"]) == ("O1", "2027-03-01T22:00:00Z", False)  # 17:00+01:00 and 6 h
    unload_cart(cart_code="C1", clock=clock(MORNING))
    assert get(replay, "/carts/", limit=1)["results"][0]["is_out"] is True


def test_carts_come_in_pages(replay, lot):
    first = get(replay, "/carts/", limit=1)
    second = replay.get(first["next"]).json()
    assert [row["cart"] for row in first["results"] + second["results"]] == ["C1", "C2"]
    assert second["next"] is None


def test_carts_cost_the_same_queries_for_one_row_and_twenty(replay, run):
    finish(replay, run)
    Cart.objects.bulk_create(Cart(code=f"C{number:02d}") for number in range(20))
    for cart in Cart.objects.all()[:10]:
        put_on_cart(cart_code=cart.code, spools={f"{run}-{BLACK}": 1})
    get(replay, "/carts/")
    one = queries(lambda: get(replay, "/carts/", limit=1))
    assert queries(lambda: get(replay, "/carts/", limit=20)) == one


def test_cart_goes_into_the_oven_out_of_it_and_onto_the_shelf_by_its_code(replay, lot):
    load = post(replay, "/oven-loads/", 201, oven="O1", carts=["C1"], hours=8, occurred_at=OVEN)
    assert [(row["lot"], row["quantity"]) for row in load["spools"]] == [(lot, 2)]
    assert load["hours"] == 8
    assert post(replay, "/pack/", 409, cart="C1", occurred_at=PACK)["code"] == "cart_busy"
    out = post(replay, "/carts/C1/unload/", 200, occurred_at=PACK)
    assert (out["load"], out["is_out"]) == (load["load"], True)
    packed = post(replay, "/pack/", 201, cart="C1", occurred_at=PACK)
    assert [(row["lot"], row["quantity"]) for row in packed["lines"] if row["to_place"] == "SHELF"] == [(lot, 2)]
    assert get(replay, "/carts/", limit=1)["results"][0]["spools"] == []


@pytest.mark.parametrize("named", [{}, {"carts": ["C1"], "spools": [{"sku": BLACK, "quantity": 1}]}])
def test_load_names_either_spools_or_carts(replay, lot, named):
    problem = post(replay, "/oven-loads/", 422, oven="O1", occurred_at=OVEN, **named)
    assert problem["errors"][0]["detail"] == "Give either spools or carts."


@pytest.mark.parametrize("named", [{}, {"cart": "C1", "spools": [{"sku": BLACK, "quantity": 1}]}])
def test_pack_names_either_spools_or_a_cart(replay, lot, named):
    assert post(replay, "/pack/", 422, occurred_at=PACK, **named)["errors"][0]["pointer"] == "#/spools"


def test_cart_that_is_not_there_is_named_with_its_place(replay, lot):
    problem = post(replay, "/oven-loads/", 422, oven="O1", carts=["C1", "C9"], occurred_at=OVEN)
    assert problem["errors"][0]["pointer"] == "#/carts/1"
    assert post(replay, "/carts/C9/unload/", 404, occurred_at=OVEN)["code"] == "not_found"
    assert post(replay, "/carts/C1/unload/", 409, occurred_at=OVEN)["code"] == "cart_busy"
