"""What leaves with the next pick-up. 2027-03-01 is a Monday; cut-off 13:40, pick-up 16:00."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from datetime import date

import pytest
import time_machine
from django.test import Client

from inventory.models import Balance, Channel, Lot, Order, OrderLine, OvenLoad, Place, Run, ShipmentLine, Sku
from inventory.rules.order_draft import OrderDraft
from inventory.selectors.due import Stage, due_order, next_pick_up
from inventory.services.amendments import cancel_order
from inventory.services.ledger import ensure_places
from inventory.services.orders import place_order
from inventory.services.ovens import load_oven
from stockplan.planner.pages.due import pack_first_of, picks_of
from tests.inventory.builders import TinyPlant, build_supply, build_tiny_plant, clock, local, put_on_shelf
from tests.pages.conftest import CLOSE, OPEN

LogIn = Callable[[str], Client]
MONDAY, TUESDAY = date(2027, 3, 1), date(2027, 3, 2)


@pytest.fixture
def tiny(db: None) -> Iterator[TinyPlant]:
    """The tiny plant on a Monday at 10:00 with five kilogram spools of black at B1."""
    with time_machine.travel(local("2027-03-01 10:00"), tick=False):
        ensure_places()
        tiny = build_tiny_plant()
        Sku.objects.filter(pk=tiny.black_1kg.pk).update(shelf_place="B1")
        put_on_shelf(tiny.black_1kg, 5)
        yield tiny


def order(reference: str, lines: dict[Sku, int], *, may_part_ship: bool = False, at: str = "2027-03-01 09:00") -> int:
    draft = OrderDraft(
        channel_code="WEB",
        reference=reference,
        lines=[(sku.item.code, spools) for sku, spools in lines.items()],
        may_part_ship=may_part_ship,
    )
    return place_order(body=draft, clock=clock(at)).order_id


def test_pick_up_is_todays_until_it_is_past_and_then_the_next(tiny: TinyPlant) -> None:
    assert next_pick_up(now=local("2027-03-01 15:59")).ship_day == MONDAY
    assert next_pick_up(now=local("2027-03-01 16:01")).ship_day == TUESDAY


def test_order_after_the_cut_off_belongs_to_the_next_pick_up(tiny: TinyPlant) -> None:
    order("LATE", {tiny.black_1kg: 1}, at="2027-03-01 13:40")
    assert next_pick_up(now=local("2027-03-01 14:00")).orders == ()
    assert [one.reference for one in next_pick_up(now=local("2027-03-02 08:00")).orders] == ["LATE"]


def test_orders_are_ready_part_ready_or_stuck_by_what_lies_on_the_shelf(tiny: TinyPlant) -> None:
    order("READY", {tiny.black_1kg: 2})
    order("PART", {tiny.black_1kg: 1, tiny.natural_1kg: 1}, may_part_ship=True)
    order("WHOLE", {tiny.black_1kg: 1, tiny.natural_1kg: 1})
    pick_up = next_pick_up(now=local("2027-03-01 10:00"))
    groups = [[one.reference for one in group] for group in (pick_up.ready, pick_up.part_ready, pick_up.stuck)]
    assert groups == [["READY"], ["PART"], ["WHOLE"]]


def test_pick_list_adds_up_what_ready_orders_take_from_a_place(tiny: TinyPlant) -> None:
    order("A", {tiny.black_1kg: 2})
    order("B", {tiny.black_1kg: 3})
    [pick] = picks_of(next_pick_up(now=local("2027-03-01 10:00")).ready)
    assert (pick.shelf_place, pick.sku_code, pick.spools, pick.orders) == ("B1", "PLA-BLACK-1000", 5, 2)


def test_stuck_order_says_where_its_spools_are(tiny: TinyPlant, logged_in: LogIn) -> None:
    build_supply(tiny, sku=tiny.natural_1kg, quantity=4, shelf_day=TUESDAY, code="R1")
    order("WAITS", {tiny.natural_1kg: 6})
    text = logged_in("floor").get("/admin/due/").text
    assert "6 open, 0 on the shelf; 4 from run R1: to be wound, ships on Tue 2 Mar" in text
    assert "for 2 nothing is planned" in text


def test_spools_in_the_oven_that_an_order_waits_for_are_packed_first(tiny: TinyPlant) -> None:
    output = build_supply(tiny, sku=tiny.natural_1kg, quantity=4, shelf_day=TUESDAY, code="R1")
    order("WAITS", {tiny.natural_1kg: 3})
    Run.objects.update(state="finished", started_at=local("2027-03-01 07:00"), finished_at=local("2027-03-01 08:00"))
    lot = put_on_shelf(tiny.natural_1kg, 4, lot_code="R1-NAT", place_kind="wound")
    lot.run = output.run
    lot.save()
    put_into_oven(tiny, lot_id=lot.pk)
    [row] = pack_first_of(next_pick_up(now=local("2027-03-01 10:00")).orders)
    assert (row.run_code, row.spools, row.stage, row.stage_at) == ("R1", 3, Stage.OVEN, local("2027-03-01 14:00"))


def test_where_spools_are_is_said_in_the_readers_language(tiny: TinyPlant, logged_in: LogIn, pseudo: None) -> None:
    build_supply(tiny, sku=tiny.natural_1kg, quantity=4, shelf_day=TUESDAY, code="R1")
    order("WAITS", {tiny.natural_1kg: 3})
    assert f"{OPEN}to be wound{CLOSE}" in logged_in("floor").get("/admin/due/").text


def test_no_more_is_packed_first_than_is_dry_and_orders_due_first_have_it(tiny: TinyPlant) -> None:
    output = build_supply(tiny, sku=tiny.natural_1kg, quantity=4, shelf_day=TUESDAY, code="R1")
    first, then = (order(reference, {tiny.natural_1kg: 2}) for reference in ("FIRST", "THEN"))
    Run.objects.update(state="finished", started_at=local("2027-03-01 07:00"), finished_at=local("2027-03-01 08:00"))
    put_on_shelf(tiny.natural_1kg, 1, lot_code="R1-DRY", place_kind="packing")
    put_on_shelf(tiny.natural_1kg, 3, lot_code="R1-DAMP", place_kind="wound")
    Lot.objects.filter(code__startswith="R1-").update(run=output.run)
    found = next_pick_up(now=local("2027-03-01 10:00")).orders
    assert [(row.spools, row.stage) for row in pack_first_of(found)] == [(1, Stage.PACKING)]
    assert found == tuple(due_order(order_id) for order_id in (first, then))
    assert [[(part.spools, part.stage) for part in one.lines[0].awaited] for one in found] == [
        [(1, Stage.PACKING), (1, Stage.WOUND)],
        [(2, Stage.WOUND)],
    ]


def put_into_oven(tiny: TinyPlant, *, lot_id: int) -> None:
    place = Place.objects.create(code="OVEN-T", kind="oven", oven=tiny.oven, is_physical=True)
    Balance.objects.filter(lot_id=lot_id, place__kind="wound").update(place=place)
    OvenLoad.objects.create(
        code="O1",
        oven=tiny.oven,
        loaded_at=local("2027-03-01 08:00"),
        known_at=local("2027-03-01 08:00"),
        temperature_c=50,
        hours=6,
        ready_at=local("2027-03-01 14:00"),
    )


def test_packer_ships_what_is_in_the_box(tiny: TinyPlant, logged_in: LogIn) -> None:
    order_id = order("PART", {tiny.black_1kg: 4}, may_part_ship=True)
    answer = logged_in("floor").post(
        f"/admin/due/{order_id}/ship/", {"line 1": "3", "document": "WB 4711"}, follow=True
    )
    assert "Order PART left on Mon 1 Mar. Something of it stays open." in answer.text
    assert ShipmentLine.objects.get().quantity == 3
    assert ShipmentLine.objects.get().shipment.document == "WB 4711"


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({}, "no line is confirmed yet"),
        ({"line 1": "three"}, "line 1: a whole number of spools, got &#x27;three&#x27;."),
        ({"line 1": "5"}, "line 1: at most 4 spools, got 5."),
        ({"line 1": "3"}, "may not"),
    ],
    ids=["nothing", "words", "more than it holds", "part of an order that may not part-ship"],
)
def test_wrong_box_is_told_and_nothing_leaves(
    tiny: TinyPlant, logged_in: LogIn, typed: dict[str, str], said: str
) -> None:
    order_id = order("WHOLE", {tiny.black_1kg: 4})
    answer = logged_in("floor").post(f"/admin/due/{order_id}/ship/", typed)
    assert answer.status_code == 422
    assert said in answer.text
    assert not OrderLine.objects.filter(shipped__gt=0).exists()


def test_order_that_has_left_is_named_on_a_tab_that_stayed_open(tiny: TinyPlant, logged_in: LogIn) -> None:
    order_id = order("GONE", {tiny.black_1kg: 1})
    floor = logged_in("floor")
    _, again = (floor.post(f"/admin/due/{order_id}/ship/", {"line 1": "1"}) for _ in range(2))
    assert again.status_code == 404
    assert "Nothing of order GONE of WEB waits to be shipped any more." in again.text


def test_sales_sees_the_orders_but_ships_none(tiny: TinyPlant, logged_in: LogIn) -> None:
    order_id = order("A", {tiny.black_1kg: 1})
    client = logged_in("sales")
    assert re.search(r'href="/admin/due/\d+/"', client.get("/admin/due/").text)
    assert "Ship what is in the box" not in client.get(f"/admin/due/{order_id}/").text
    assert client.post(f"/admin/due/{order_id}/ship/", {"line 1": "1"}).status_code == 403
    assert Order.objects.get().state == "open"


def test_closed_order_is_not_found(tiny: TinyPlant, logged_in: LogIn) -> None:
    order_id = order("A", {tiny.black_1kg: 1})
    client = logged_in("floor")
    client.post(f"/admin/due/{order_id}/ship/", {"line 1": "1"})
    assert client.get(f"/admin/due/{order_id}/").status_code == 404


def test_order_to_pack_asks_only_those_to_scan_who_may_ship(tiny: TinyPlant, logged_in: LogIn) -> None:
    path = f"/admin/due/{order('SCAN', {tiny.black_1kg: 1})}/"
    asked = {role: "Scan every spool" in logged_in(role).get(path).text for role in ("floor", "sales")}
    assert asked == {"floor": True, "sales": False}


def test_packing_slip_of_an_order_is_printed_by_everybody(tiny: TinyPlant, logged_in: LogIn) -> None:
    path = f"/admin/due/{order('PRINT', {tiny.black_1kg: 1})}/"
    sales = logged_in("sales")
    assert f'href="{path}packing-slip.pdf"' in sales.get(path).text
    assert sales.get(f"{path}packing-slip.pdf")["Content-Type"] == "application/pdf"


def test_one_order_is_counted_as_one(tiny: TinyPlant, logged_in: LogIn) -> None:
    order("READY", {tiny.black_1kg: 2})
    text = logged_in("floor").get("/admin/due/").text
    assert "1 <small>order, everything on the shelf</small>" in text
    assert "0 <small>orders that may part-ship</small>" in text


def test_what_dries_beyond_the_pick_up_says_so(tiny: TinyPlant, logged_in: LogIn) -> None:
    output = build_supply(tiny, sku=tiny.black_1kg, quantity=4, shelf_day=MONDAY, code="R1")
    order("WAITS", {tiny.black_1kg: 8})
    Run.objects.update(state="finished", started_at=local("2027-03-01 06:00"), finished_at=local("2027-03-01 08:00"))
    lot = put_on_shelf(tiny.black_1kg, 4, lot_code="R1-BLACK", place_kind="wound")
    Lot.objects.filter(pk=lot.pk).update(run=output.run)
    load_oven(oven_code="O1", spools=[("R1-BLACK", "PLA-BLACK-1000", 4)], clock=clock("2027-03-01 09:30"))
    # Six hours from 09:30, and the carrier comes at 16:00.
    assert "after the pick-up" not in logged_in("floor").get("/admin/due/").text
    OvenLoad.objects.update(ready_at=local("2027-03-01 16:01"))
    assert "after the pick-up" in logged_in("planner").get("/admin/due/").text


def test_scan_of_a_carton_opens_its_order(tiny: TinyPlant, logged_in: LogIn) -> None:
    number = order("BOX-7", {tiny.black_1kg: 2})
    floor = logged_in("floor")
    assert 'action="/admin/due/find/"' in floor.get("/admin/due/").text
    assert floor.get("/admin/due/find/", {"code": " BOX-7 "})["Location"] == f"/admin/due/{number}/"


def test_scan_of_what_is_no_open_order_is_told(tiny: TinyPlant, logged_in: LogIn) -> None:
    cancel_order(order_id=order("BOX-7", {tiny.black_1kg: 2}), clock=clock("2027-03-01 09:30"), by="customer")
    floor = logged_in("floor")
    assert "Order BOX-7 of WEB is cancelled: nothing of it is open." in _said(floor, "BOX-7")
    assert "No order is called BOX-8." in _said(floor, "BOX-8")


def _said(floor: Client, code: str) -> str:
    return floor.get("/admin/due/find/", {"code": code}, follow=True).text


def test_scan_that_means_orders_of_two_channels_leads_to_each(tiny: TinyPlant, logged_in: LogIn) -> None:
    first = order("BOX-7", {tiny.black_1kg: 1})
    Channel.objects.create(code="MARKET", name="Market")
    draft = OrderDraft(channel_code="MARKET", reference="BOX-7", lines=[(tiny.black_1kg.item.code, 1)])
    second = place_order(body=draft, clock=clock("2027-03-01 09:10")).order_id
    text = logged_in("floor").get("/admin/due/find/", {"code": "BOX-7"}).text
    assert "Several channels have an order of this name" in text
    assert text.index(f"/admin/due/{first}/") < text.index(f"/admin/due/{second}/")


def test_scan_at_the_counter_opens_the_order_unless_it_finds_goods(tiny: TinyPlant, logged_in: LogIn) -> None:
    number, sales = order("BOX-7", {tiny.black_1kg: 1}), logged_in("sales")
    assert sales.get("/admin/stock/", {"q": "BOX-7"})["Location"] == f"/admin/orders/{number}/"
    order("black", {tiny.black_1kg: 1})
    assert sales.get("/admin/stock/", {"q": "black"}).status_code == 200


def test_field_of_a_line_that_is_refused_has_the_focus_and_keeps_what_was_typed(
    tiny: TinyPlant, logged_in: LogIn
) -> None:
    number = order("BOX-7", {tiny.black_1kg: 2})
    answer = logged_in("floor").post(f"/admin/due/{number}/ship/", {"line 1": "9"})
    assert answer.status_code == 422
    [tag] = re.findall(r'<input[^>]*name="line 1"[^>]*>', answer.text)
    assert 'value="9" aria-invalid="true" aria-describedby="fault" autofocus' in tag
