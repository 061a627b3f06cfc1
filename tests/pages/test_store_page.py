"""Reports of store and shelf from their page, on the tiny plant."""

from __future__ import annotations

import html
import re
from collections.abc import Callable, Iterator
from datetime import date
from decimal import Decimal

import pytest
import time_machine
from django.test import Client

from inventory.models import Lot, Movement, MovementLine, Order
from inventory.rules.order_draft import OrderDraft
from inventory.services.orders import place_order
from inventory.services.shipments import ship_order
from stockplan.planner.pages.store import REPORTS
from tests.inventory.books.reading import lying, shelf
from tests.inventory.builders import TinyPlant, build_supply, build_tiny_plant, clock, local, put_on_shelf
from tests.pages.shown_plant import ShownPlant

LogIn = Callable[[str], Client]
KG = "PLA-BLACK-1000"


@pytest.fixture
def tiny(db: None) -> Iterator[TinyPlant]:
    """On a Monday morning five black kilogram spools of the lot L1 lie on the shelf."""
    tiny = build_tiny_plant()
    put_on_shelf(tiny.black_1kg, 5, lot_code="L1")
    with time_machine.travel(local("2027-03-01 09:00"), tick=False):
        yield tiny


def _write(client: Client, name: str, **typed: str) -> tuple[int, str]:
    answer = client.post(f"/admin/store/{name}/write/", typed, follow=True)
    return answer.status_code, answer.text


def test_delivery_is_in_the_store(tiny: TinyPlant, logged_in: LogIn) -> None:
    status, text = _write(
        logged_in("floor"), "receipt", item="RESIN-PLA", lot="R-9", supplier_lot="S-1", quantity="771.125", document="D"
    )  # fmt: skip
    assert (status, "Written into the books: delivery." in text, "771.125" in text) == (200, True, True)
    assert lying(tiny.black.material.resin_item, "resin_store") == Decimal("771.125")


def test_count_brings_the_books_to_what_lies_there(tiny: TinyPlant, logged_in: LogIn) -> None:
    _write(logged_in("floor"), "count", item=KG, place="shelf", any_lot="", quantity="4", reason="cycle")
    assert shelf(tiny.black_1kg) == (4, 0)


@pytest.mark.parametrize(
    ("name", "typed"),
    [
        ("scrap", {"item": KG, "place": "shelf", "any_lot": "L1", "quantity": "2"}),
        ("own-use", {"sku": KG, "any_lot": "", "spools": "2"}),
        ("sample", {"sku": KG, "any_lot": "L1", "spools": "2"}),
    ],
)
def test_what_leaves_without_an_order_is_off_the_shelf(
    tiny: TinyPlant, logged_in: LogIn, name: str, typed: dict[str, str]
) -> None:
    client = logged_in("floor")
    assert _write(client, name, **typed, reason="torn")[0] == 200
    assert shelf(tiny.black_1kg) == (3, 0)
    newest = Movement.objects.latest("id")
    assert (newest.reason, newest.posted_by.username) == ("torn", "floor-person")


def test_codes_may_be_typed_in_small_letters(tiny: TinyPlant, logged_in: LogIn) -> None:
    typed = {"item": KG.lower(), "place": "shelf", "any_lot": "l1", "quantity": "2"}
    assert _write(logged_in("floor"), "scrap", **typed, reason="torn")[0] == 200
    assert shelf(tiny.black_1kg) == (3, 0)


def test_held_lot_is_off_the_shelf_until_it_is_released(tiny: TinyPlant, logged_in: LogIn) -> None:
    client = logged_in("floor")
    _write(client, "hold", lot="L1", reason="diameter")
    assert (shelf(tiny.black_1kg), Lot.objects.get(code="L1").is_held) == ((0, 0), True)
    _write(client, "release", lot="L1", reason="measured again")
    assert shelf(tiny.black_1kg) == (5, 0)


@pytest.mark.parametrize(
    ("name", "typed", "said"),
    [
        # 08:00 UTC is 09:00 on the clock of the plant.
        (
            "scrap",
            {"item": KG, "place": "shelf", "quantity": "6"},
            "6 asked for, 5 can be taken at 2027-03-01 09:00.",
        ),
        ("scrap", {"item": KG, "place": "oven", "quantity": "1"}, "Select a valid choice"),
        ("scrap", {"item": "NONE", "place": "shelf", "quantity": "1"}, "does not exist"),
        ("own-use", {"sku": "RESIN-PLA", "spools": "1"}, "does not exist"),
        ("return", {"sku": KG, "lot": "L1", "spools": "1"}, "can be taken"),
        ("hold", {"lot": "L2"}, "does not exist"),
        ("sample", {"sku": KG, "spools": "many"}, "Enter a whole number"),
    ],
)
def test_wrong_report_is_said_at_the_form_and_writes_nothing(
    tiny: TinyPlant, logged_in: LogIn, name: str, typed: dict[str, str], said: str
) -> None:
    before = Movement.objects.count()
    status, text = _write(logged_in("floor"), name, **typed, reason="torn")
    assert (status, said in text) == (422, True)
    assert Movement.objects.count() == before


@pytest.mark.parametrize("name", REPORTS)
def test_every_report_shows_its_form(tiny: TinyPlant, logged_in: LogIn, name: str) -> None:
    text = logged_in("floor").get(f"/admin/store/{name}/").text
    assert f'<h2 id="report">{REPORTS[name].title}</h2>' in text
    assert all(f'name="{field}"' in text for field in REPORTS[name].fields)


def test_report_that_does_not_exist_is_not_found(tiny: TinyPlant, logged_in: LogIn) -> None:
    assert logged_in("floor").get("/admin/store/burn/").status_code == 404


def test_who_may_not_report_may_look(tiny: TinyPlant, logged_in: LogIn) -> None:
    planner = logged_in("planner")
    assert "Write into the books" not in planner.get("/admin/store/").text
    assert planner.post("/admin/store/hold/write/", {"lot": "L1", "reason": "x"}).status_code == 403


@pytest.fixture
def labelled(tiny: TinyPlant) -> str:
    """The lot L1 was wound by the run R1, whose code stands on its spools as their lot."""
    run = build_supply(tiny, sku=tiny.black_1kg, quantity=5, shelf_day=date(2027, 3, 1), code="R1").run
    Lot.objects.filter(code="L1").update(run=run)
    return f"010{tiny.black_1kg.gtin}310300100010R1"


def test_codes_of_a_label_stand_for_sku_and_lot(tiny: TinyPlant, labelled: str, logged_in: LogIn) -> None:
    floor = logged_in("floor")
    for number, typed in enumerate(({"sku": labelled, "any_lot": labelled}, {"sku": KG, "any_lot": "R1"}), start=1):
        assert _write(floor, "own-use", **typed, spools="1", reason="jig")[0] == 200
        assert shelf(tiny.black_1kg)[0] == 5 - number
    assert {line.lot.code for line in MovementLine.objects.filter(movement__kind="own_use")} == {"L1"}


def test_count_of_a_scanned_gtin_is_of_its_sku(tiny: TinyPlant, logged_in: LogIn) -> None:
    gtin = str(tiny.black_1kg.gtin)
    _write(logged_in("floor"), "count", item=f"0{gtin}", place="shelf", any_lot="", quantity="4", reason="cycle")
    assert shelf(tiny.black_1kg) == (4, 0)


def test_scan_of_a_spool_holds_its_lot(tiny: TinyPlant, labelled: str, logged_in: LogIn) -> None:
    _write(logged_in("floor"), "hold", lot=labelled, reason="brittle")
    assert Lot.objects.get(code="L1").is_held


def test_run_of_one_lot_stands_for_it_and_an_unknown_one_is_told(
    tiny: TinyPlant, labelled: str, logged_in: LogIn
) -> None:
    floor = logged_in("floor")
    _write(floor, "hold", lot="R1", reason="brittle")
    assert Lot.objects.get(code="L1").is_held
    status, text = _write(floor, "hold", lot="R9", reason="brittle")
    assert (status, "R9" in text) == (422, True)


def test_field_that_is_refused_has_the_focus_and_is_described_by_why(shown: ShownPlant, logged_in: LogIn) -> None:
    typed = {"item": "NO-SUCH", "place": "shelf", "quantity": "1", "reason": "x"}
    text = logged_in("floor").post("/admin/store/scrap/write/", typed).text
    [tag] = re.findall(r'<input[^>]*name="item"[^>]*>', text)
    assert " autofocus" in tag
    [described] = re.findall(r'aria-describedby="([^"]*)"', tag)
    assert all(f'id="{one}"' in text for one in described.split())
    assert "id_item_error" in described


def test_returned_spools_are_listed_with_the_way_back_to_the_shelf_filled_in(tiny: TinyPlant, logged_in: LogIn) -> None:
    place_order(body=OrderDraft("WEB", "A", [(KG, 2)]), clock=clock("2027-03-01 08:00"))
    order = Order.objects.get()
    ship_order(order_id=order.pk, clock=clock("2027-03-01 08:30"))
    floor = logged_in("floor")
    _, text = _write(floor, "return", sku=KG, lot="L1", spools="2", reason="ordered twice")
    assert "Waiting for inspection" in text
    address = html.unescape(re.search(r'href="(/admin/store/restock/\?[^"]*)"', text)[1])
    form = floor.get(address).context["form"]
    assert [form[name].value() for name in ("sku", "lot", "spools")] == [KG, "L1", "2"]
    _write(floor, "restock", sku=KG, lot="L1", spools="2", reason="seal unbroken")
    assert "Waiting for inspection" not in floor.get("/admin/store/restock/").text
    assert shelf(tiny.black_1kg) == (5, 0)


def test_held_lots_are_listed_with_why_and_the_release_filled_in(tiny: TinyPlant, logged_in: LogIn) -> None:
    floor = logged_in("floor")
    _, text = _write(floor, "hold", lot="L1", reason="damp bags")
    assert re.search(r"On hold.*PLA-BLACK-1000.*L1.*>5<.*damp bags", text, re.DOTALL)
    assert floor.get("/admin/store/release/?lot=L1").context["form"]["lot"].value() == "L1"
    assert "hold,L1,PLA-BLACK-1000" in floor.get("/admin/tables/set-aside.csv").text
    _write(floor, "release", lot="L1", reason="dry")
    assert "On hold" not in floor.get("/admin/store/release/").text
