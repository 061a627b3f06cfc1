"""Between line and shelf: each report from the page, on the tiny plant whose one oven has 60 places at 50 °C."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date

import pytest
import time_machine
from django.test import Client

from inventory.models import Lot, Oven, OvenLoad, Run, ShelfStock
from inventory.rules.order_draft import OrderDraft
from inventory.selectors.finishing import finishing_board
from inventory.services.ledger import ensure_places
from inventory.services.orders import place_order
from tests.inventory.builders import TinyPlant, build_supply, build_tiny_plant, clock, local, put_on_shelf
from tests.pages.conftest import log_in_again

LogIn = Callable[[str], Client]
EVENING, NEXT_MORNING = local("2027-03-01 17:00"), local("2027-03-02 06:00")


@pytest.fixture
def tiny(db: None) -> TinyPlant:
    """Four black kilogram spools of the finished run R1 wait for the oven; an order wants three of them."""
    ensure_places()
    tiny = build_tiny_plant()
    output = build_supply(tiny, sku=tiny.black_1kg, quantity=4, shelf_day=date(2027, 3, 2), code="R1")
    draft = OrderDraft(channel_code="WEB", reference="WAITS", lines=[("PLA-BLACK-1000", 3)])
    place_order(body=draft, clock=clock("2027-03-01 09:00"))
    Run.objects.update(state="finished", started_at=local("2027-03-01 07:00"), finished_at=local("2027-03-01 08:00"))
    lot = put_on_shelf(tiny.black_1kg, 4, lot_code="R1-BLACK", place_kind="wound")
    Lot.objects.filter(pk=lot.pk).update(run=output.run)
    return tiny


@pytest.fixture
def evening(tiny: TinyPlant) -> Iterator[None]:
    with time_machine.travel(EVENING, tick=False):
        yield


@pytest.fixture
def loaded(tiny: TinyPlant, logged_in: LogIn) -> Client:
    """The floor after it loaded all four in the evening. They dry for six hours."""
    with time_machine.travel(EVENING, tick=False):
        floor = logged_in("floor")
        assert floor.post("/admin/ovens/O1/load/", {"spools R1-BLACK": "4"}).status_code == 302
    return floor


def test_page_proposes_to_load_what_waits(evening: None, logged_in: LogIn) -> None:
    [(oven, _all, rows)] = logged_in("floor").get("/admin/ovens/").context["tonight"]
    assert (oven.code, [(row.lot_code, spools) for row, spools in rows]) == ("O1", [("R1-BLACK", 4)])


def test_oven_begins_the_lots_that_it_has_no_place_for_and_leads_to_all(
    evening: None, tiny: TinyPlant, logged_in: LogIn
) -> None:
    for number in range(12):
        put_on_shelf(tiny.black_1kg, 4, lot_code=f"MORE-{number:02}", place_kind="wound")
    Oven.objects.update(places=4)
    floor = logged_in("floor")
    text = floor.get("/admin/ovens/").text
    # What the order waits for fills the four places; of the twelve others eight are begun.
    assert [text.count('name="spools R1-BLACK"'), text.count('name="spools MORE-')] == [1, 8]
    assert '<a href="?oven=O1#oven-O1">All 13 lots that suit it</a>' in text
    every = floor.get("/admin/ovens/?oven=O1").text
    assert [every.count('name="spools MORE-'), "All 13 lots" in every] == [12, False]


def test_page_says_how_many_orders_wait_for_and_when_the_first_is_due(evening: None, logged_in: LogIn) -> None:
    [row] = finishing_board().wound
    assert (row.needed, row.due_day) == (3, date(2027, 3, 1))
    assert "first due Mon 1 Mar" in logged_in("floor").get("/admin/ovens/").text


def test_loaded_oven_says_when_it_is_dry(loaded: Client) -> None:
    load = OvenLoad.objects.get()
    assert load.ready_at == local("2027-03-01 23:00")
    with time_machine.travel(EVENING, tick=False):
        text = loaded.get("/admin/ovens/").text
    assert "Dry at Mon 1 Mar 23:00." in text
    assert "Take O1 out" not in text


def test_oven_that_is_not_dry_cannot_be_taken_out(loaded: Client) -> None:
    with time_machine.travel(local("2027-03-01 22:59"), tick=False):
        assert loaded.post("/admin/ovens/O1/unload/").status_code == 422
    assert OvenLoad.objects.get().unloaded_at is None


def test_dry_spools_are_taken_out_packed_and_serve_their_order(loaded: Client) -> None:
    with time_machine.travel(NEXT_MORNING, tick=False):
        log_in_again(loaded, "floor")
        assert "wait to be packed" in loaded.post("/admin/ovens/O1/unload/", follow=True).text
        text = loaded.post("/admin/ovens/pack/", {"spools R1-BLACK": "4"}, follow=True).text
    assert "4 spools are on the shelf" in text
    shelf = ShelfStock.objects.get()
    assert (shelf.on_shelf, shelf.allocated) == (4, 3)


@pytest.mark.parametrize(
    ("path", "typed", "said"),
    [
        ("O1/load", {}, "no spools are typed in."),
        ("O1/load", {"spools R1-BLACK": "5"}, "spools R1-BLACK: at most 4 spools, got 5."),
        ("O9/load", {"spools R1-BLACK": "4"}, "O9"),
        ("pack", {"spools R1-BLACK": "4"}, "no spools are typed in."),
    ],
    ids=["nothing", "more than wait", "an oven that is not there", "packing what is not dry"],
)
def test_wrong_report_is_told_and_nothing_is_written(
    evening: None, logged_in: LogIn, path: str, typed: dict[str, str], said: str
) -> None:
    answer = logged_in("floor").post(f"/admin/ovens/{path}/", typed)
    assert answer.status_code == 422
    assert said in answer.text
    assert not OvenLoad.objects.exists()


def test_page_carries_the_cautions_of_ovens(evening: None, logged_in: LogIn) -> None:
    # The usual cautions (common practice): hot air on opening, limits of the data sheets, heavy spools.
    text = logged_in("floor").get("/admin/ovens/").text
    assert all(words in text for words in ("hot air on opening", "data sheets", "heavy"))


def test_who_does_not_pack_reports_nothing(evening: None, logged_in: LogIn) -> None:
    planner = logged_in("planner")
    assert "is loaded with these" not in planner.get("/admin/ovens/").text
    assert planner.post("/admin/ovens/O1/load/", {"spools R1-BLACK": "4"}).status_code == 403
