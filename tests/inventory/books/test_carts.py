"""Carts: what stands on them, and their way through oven and packing. One run of 38 black kilogram spools."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from inventory.errors import BooksError, InvalidInputError, NotFoundError
from inventory.models import Cart, CartSpools, Place
from inventory.selectors.carts import cart_row
from inventory.services.cart_stock import OnCartError
from inventory.services.carts import (
    CartBusyError,
    NotWoundError,
    empty_cart,
    load_carts,
    pack_cart,
    put_on_cart,
    unload_cart,
)
from inventory.services.ledger import NotEnoughStockError
from inventory.services.ovens import OvenBusyError, load_oven
from inventory.services.packing import pack
from inventory.services.scrap import scrap
from tests.constraints import copy_of, refused
from tests.inventory.books.floor import KG, finished
from tests.inventory.books.reading import lying, shelf
from tests.inventory.builders import TinyPlant, clock

pytestmark = pytest.mark.django_db
EVENING, NIGHT, MORNING = "2027-03-01 17:00", "2027-03-01 22:59", "2027-03-02 08:00"


@pytest.fixture
def lot(stores: TinyPlant) -> str:
    """The lot of 38 spools that wait for the oven, and two carts."""
    Cart.objects.bulk_create([Cart(code="C1"), Cart(code="C2")])
    return f"{finished().run.code}-{KG}"


def _loaded(lot: str) -> None:
    put_on_cart(cart_code="C1", spools={lot: 20})
    put_on_cart(cart_code="C2", spools={lot: 10})
    load_carts(oven_code="O1", cart_codes=["C2", "C1"], clock=clock(EVENING))


def test_what_is_put_on_a_cart_adds_up(lot: str) -> None:
    put_on_cart(cart_code="C1", spools={lot: 20})
    put_on_cart(cart_code="C1", spools={lot: 5})
    assert [(row.lot_code, row.spools) for row in cart_row("C1").rows] == [(lot, 25)]


def test_carts_go_into_the_oven_out_of_it_and_onto_the_shelf(stores: TinyPlant, lot: str) -> None:
    _loaded(lot)
    assert (lying(stores.black_1kg, "oven"), lying(stores.black_1kg, "wound")) == (30, 8)
    unload_cart(cart_code="C1", clock=clock(MORNING))
    # One drying, one load: the other cart came out with it.
    assert (cart_row("C2").is_out, lying(stores.black_1kg, "packing")) == (True, 30)
    pack_cart(cart_code="C1", clock=clock(MORNING))
    assert (shelf(stores.black_1kg)[0], cart_row("C1").rows, cart_row("C1").load_code) == (20, (), None)


def test_load_that_is_not_dry_stays_in_the_oven(lot: str) -> None:
    _loaded(lot)
    with pytest.raises(OvenBusyError):
        unload_cart(cart_code="C1", clock=clock(NIGHT))
    with pytest.raises(CartBusyError, match="stands in oven O1"):
        pack_cart(cart_code="C1", clock=clock(NIGHT))
    assert cart_row("C1").spools == 20


def test_cart_that_was_never_dried_is_not_packed(lot: str) -> None:
    put_on_cart(cart_code="C1", spools={lot: 20})
    with pytest.raises(NotEnoughStockError):
        pack_cart(cart_code="C1", clock=clock(MORNING))
    assert cart_row("C1").spools == 20


def test_load_that_the_oven_refuses_leaves_the_carts_as_they_were(lot: str) -> None:
    put_on_cart(cart_code="C1", spools={lot: 20})
    with pytest.raises(BooksError):
        load_carts(oven_code="O9", cart_codes=["C1"], clock=clock(EVENING))
    assert cart_row("C1").load_code is None


def test_emptied_cart_leaves_its_spools_where_they_lie(stores: TinyPlant, lot: str) -> None:
    put_on_cart(cart_code="C1", spools={lot: 20})
    empty_cart(cart_code="C1")
    assert (cart_row("C1").rows, lying(stores.black_1kg, "wound")) == ((), 38)


@pytest.mark.parametrize("step", [
    lambda lot: put_on_cart(cart_code="C1", spools={lot: 1}),
    lambda _lot: load_carts(oven_code="O1", cart_codes=["C1"], clock=clock(MORNING)),
    lambda _lot: empty_cart(cart_code="C1"),
], ids=["put", "load", "empty"])  # fmt: skip
def test_cart_in_an_oven_is_busy(lot: str, step: Callable[[str], object]) -> None:
    _loaded(lot)
    with pytest.raises(CartBusyError):
        step(lot)


@pytest.mark.parametrize("step", [
    lambda: load_carts(oven_code="O1", cart_codes=["C1"], clock=clock(EVENING)),
    lambda: unload_cart(cart_code="C1", clock=clock(EVENING)),
    lambda: pack_cart(cart_code="C1", clock=clock(EVENING)),
], ids=["load", "unload", "pack"])  # fmt: skip
def test_empty_cart_takes_no_step(lot: str, step: Callable[[], object]) -> None:
    with pytest.raises(CartBusyError):
        step()


@pytest.mark.parametrize(
    ("cart", "spools", "error"),
    [("C9", {"L": 1}, NotFoundError), ("C1", {"L": 1}, NotFoundError), ("C1", {}, InvalidInputError)],
)
def test_wrong_cart_or_lot_is_refused(lot: str, cart: str, spools: dict[str, int], error: type[Exception]) -> None:
    with pytest.raises(error):
        put_on_cart(cart_code=cart, spools=spools)


def test_load_of_no_cart_is_refused(lot: str) -> None:
    with pytest.raises(InvalidInputError, match="No cart is named"):
        load_carts(oven_code="O1", cart_codes=[], clock=clock(EVENING))


def test_spools_stand_on_one_cart_at_a_time(lot: str) -> None:
    put_on_cart(cart_code="C1", spools={lot: 30})
    with pytest.raises(NotWoundError, match="38 spools wait for an oven, 30 of them on carts; 9 more do not"):
        put_on_cart(cart_code="C2", spools={lot: 9})


def test_spools_on_a_cart_are_not_loaded_by_number(stores: TinyPlant, lot: str) -> None:
    put_on_cart(cart_code="C1", spools={lot: 30})
    put_on_cart(cart_code="C2", spools={lot: 2})
    with pytest.raises(OnCartError, match=f"Of lot {lot} 32 spools stand on cart C1 and C2 and go with it, 31 would"):
        load_oven(oven_code="O1", spools=[(lot, KG, 7)], clock=clock(EVENING))
    assert (lying(stores.black_1kg, "oven"), lying(stores.black_1kg, "wound")) == (0, 38)
    load_oven(oven_code="O1", spools=[(lot, KG, 6)], clock=clock(EVENING))
    assert lying(stores.black_1kg, "oven") == 6


def test_one_cart_does_not_take_the_spools_of_another(lot: str) -> None:
    put_on_cart(cart_code="C1", spools={lot: 20})
    put_on_cart(cart_code="C2", spools={lot: 18})
    scrap(item_code=KG, quantity=1, clock=clock(EVENING), reason="torn", place_kind=Place.Kind.WOUND, lot_code=lot)
    with pytest.raises(OnCartError, match="18 spools stand on cart C2 and go with it, 17 would be left"):
        load_carts(oven_code="O1", cart_codes=["C1"], clock=clock(EVENING))
    assert cart_row("C1").load_code is None


@pytest.mark.parametrize("out", [True, False], ids=["on the bench", "in its oven"])
def test_dried_spools_on_a_cart_are_not_packed_by_number(stores: TinyPlant, lot: str, *, out: bool) -> None:
    _loaded(lot)
    if out:
        unload_cart(cart_code="C1", clock=clock(MORNING))
    with pytest.raises(OnCartError, match="30 spools stand on cart C1 and C2 and go with it, 29 would be left"):
        pack(spools=[(lot, KG, 1)], clock=clock(MORNING))
    assert shelf(stores.black_1kg)[0] == 0


@pytest.mark.clean_error_of("cartspools_positive")
def test_no_spools_of_a_lot_are_refused_by_the_service(lot: str) -> None:
    with pytest.raises(InvalidInputError, match="0 spools: 1 to"):
        put_on_cart(cart_code="C1", spools={lot: 0})


@pytest.mark.refused_by_database("cartspools_positive")
def test_no_spools_of_a_lot_are_refused_by_the_database(lot: str) -> None:
    put_on_cart(cart_code="C1", spools={lot: 1})
    with refused("cartspools_positive"):
        CartSpools.objects.update(spools=0)


@pytest.mark.clean_error_of("cartspools_one_per_cart_and_lot")
def test_second_row_of_a_lot_is_added_to_the_first(lot: str) -> None:
    put_on_cart(cart_code="C1", spools={lot: 1})
    put_on_cart(cart_code="C1", spools={lot: 2})
    assert CartSpools.objects.get().spools == 3


@pytest.mark.refused_by_database("cartspools_one_per_cart_and_lot")
def test_second_row_of_a_lot_is_refused_by_the_database(lot: str) -> None:
    put_on_cart(cart_code="C1", spools={lot: 1})
    with refused("cartspools_one_per_cart_and_lot"):
        copy_of(CartSpools.objects.get())
