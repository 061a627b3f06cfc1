"""The page that traces and recalls, on the tiny plant with one run of two lots of resin, three spools of it shipped."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator

import pytest
import time_machine
from django.test import Client

from inventory.models import Channel, Lot, Movement, Order, Run
from inventory.rules.order_draft import OrderDraft
from inventory.services.orders import place_order
from inventory.services.places import ensure_places
from inventory.services.shipments import ship_order
from stockplan.planner.pages.trace import ROWS_SHOWN
from tests.inventory.books.floor import KG, QUARTER, packed
from tests.inventory.books.reading import shelf
from tests.inventory.builders import TinyPlant, build_tiny_plant, clock, local, put_in_store

LogIn = Callable[[str], Client]


def made(size: str = KG) -> tuple[str, str]:
    """Return the codes of the run and of its lot of spools of this size."""
    run = Run.objects.get().code
    return run, f"{run}-{size}"


@pytest.fixture
def tiny(db: None) -> Iterator[TinyPlant]:
    tiny = build_tiny_plant()
    ensure_places()
    put_in_store(tiny.black.material.resin_item, "20", lot_code="R/OLD", at="2027-02-01 08:00")
    put_in_store(tiny.black.material.resin_item, "200", lot_code="R-NEW", at="2027-02-02 08:00")
    Lot.objects.filter(code="R/OLD").update(supplier_lot="SUP-9")
    draft = OrderDraft(channel_code="WEB", reference="A", lines=[(KG, 3)], ship_to="=Mill Lane 3")
    order = place_order(body=draft, clock=clock("2027-03-01 06:30"))
    packed()
    ship_order(order_id=order.order_id, clock=clock("2027-03-02 10:00"))
    with time_machine.travel(local("2027-03-02 12:00"), tick=False):
        yield tiny


def _csv(client: Client, name: str, **query: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(client.get(f"/admin/tables/trace-{name}.csv", query).text)))


def test_suppliers_lot_leads_to_the_trace(tiny: TinyPlant, logged_in: LogIn) -> None:
    answer = logged_in("floor").get("/admin/trace/", {"q": "SUP-9"})
    assert (answer.status_code, answer["Location"]) == (302, "/admin/trace/?lot=R%2FOLD")


def test_page_of_a_lot_of_resin_names_customers_places_and_runs(tiny: TinyPlant, logged_in: LogIn) -> None:
    text = logged_in("floor").get("/admin/trace/", {"lot": "R/OLD"}).text
    assert all(words in text for words in ("WEB A", "=Mill Lane 3", "SHELF", *made(), "SUP-9"))


def test_page_of_an_order_names_its_lots_of_resin(tiny: TinyPlant, logged_in: LogIn) -> None:
    text = logged_in("floor").get("/admin/trace/", {"order": str(Order.objects.get().pk)}).text
    assert "R/OLD" in text
    assert "R-NEW" in text


def test_one_reference_in_two_channels_is_asked_back(tiny: TinyPlant, logged_in: LogIn) -> None:
    Channel.objects.create(code="PHONE", name="by phone")
    draft = OrderDraft(channel_code="PHONE", reference="A", lines=[(QUARTER, 1)])
    place_order(body=draft, clock=clock("2027-03-02 11:00"))
    text = logged_in("floor").get("/admin/trace/", {"q": "A"}).text
    assert "order A of PHONE" in text
    assert "order A of WEB" in text


def test_lots_of_one_suppliers_code_are_all_found_page_by_page(tiny: TinyPlant, logged_in: LogIn) -> None:
    resin = tiny.black.material.resin_item
    Lot.objects.bulk_create(
        Lot(code=f"R-{n:03}", item=resin, supplier_lot="SUP-7", created_at=local("2027-02-03 08:00"))
        for n in range(ROWS_SHOWN + 1)
    )
    client = logged_in("floor")
    first, second = (client.get("/admin/trace/", {"q": "SUP-7", "page": page}).text for page in (1, 2))
    assert f"{ROWS_SHOWN + 1} are called SUP-7" in first
    assert ("?lot=R-099" in first, "?lot=R-100" in first, "?q=SUP-7&amp;page=2" in first) == (True, False, True)
    assert ("?lot=R-099" in second, "?lot=R-100" in second) == (False, True)


def test_words_that_name_nothing_are_said(tiny: TinyPlant, logged_in: LogIn) -> None:
    assert "is called exactly nothing" in logged_in("floor").get("/admin/trace/", {"q": "nothing"}).text


def test_delivered_as_csv_names_every_customer_and_begins_no_formula(tiny: TinyPlant, logged_in: LogIn) -> None:
    (row,) = _csv(logged_in("floor"), "delivered", lot="R/OLD")
    assert (row["reference"], row["ship_to"], row["run"], row["lot"]) == ("A", "'=Mill Lane 3", *made())
    assert (row["sku"], row["spools"]) == (KG, "3.000")


def test_places_as_csv_tell_what_is_in_the_plant(tiny: TinyPlant, logged_in: LogIn) -> None:
    run, lot = made()
    rows = _csv(logged_in("floor"), "places", run=run)
    found = {(row["place"], row["is_in_plant"], row["quantity"]) for row in rows if row["lot"] == lot}
    # 38 were good, three of them shipped, one was scrap.
    assert found == {("SHELF", "True", "35.000"), ("CUSTOMER", "False", "3.000"), ("SCRAP", "False", "1.000")}
    assert {(row["item"], row["unit"]) for row in rows if row["lot"] == lot} == {(KG, "spool")}


def test_material_that_is_left_is_named_with_its_unit(tiny: TinyPlant, logged_in: LogIn) -> None:
    put_in_store(tiny.black.material.resin_item, "12.5", lot_code="R/NEW")
    text = logged_in("floor").get("/admin/trace/", {"lot": "R/NEW"}).text
    row = text.split('id="lying"')[1].split("R/NEW</a>")[1].split("</tr>")[0]
    assert [cell in row for cell in (">RESIN-PLA<", ">12.500<", ">kg<")] == [True] * 3


@pytest.mark.parametrize("name", ["delivered", "places", "spools", "materials"])
def test_page_leads_to_each_table_of_its_trace(tiny: TinyPlant, logged_in: LogIn, name: str) -> None:
    text = logged_in("floor").get("/admin/trace/", {"lot": "R/OLD"}).text
    assert f'href="/admin/tables/trace-{name}.csv?lot=R%2FOLD"' in text


@pytest.mark.parametrize(("name", "rows"), [("spools", 2), ("materials", 1)])
def test_other_tables_as_csv_have_a_row_each(tiny: TinyPlant, logged_in: LogIn, name: str, rows: int) -> None:
    assert len(_csv(logged_in("floor"), name, lot="R/OLD")) == rows


def test_whole_recall_is_held_by_one_button(tiny: TinyPlant, logged_in: LogIn) -> None:
    client = logged_in("floor")
    answer = client.post("/admin/trace/hold/", {"lot": "R/OLD", "reason": "supplier calls it back"}, follow=True)
    assert "Held now: " in answer.text
    assert "All of it is on hold." in answer.text
    assert "Hold all of it" not in answer.text
    assert set(Lot.objects.filter(is_held=True).values_list("code", flat=True)) == {
        "R/OLD", made(KG)[1], made(QUARTER)[1]
    }  # fmt: skip
    assert shelf(tiny.black_1kg) == (0, 0)
    assert "all were held before" in client.post(
        "/admin/trace/hold/", {"lot": "R/OLD", "reason": "again"}, follow=True
    ).text  # fmt: skip


@pytest.mark.parametrize("reason", ["", " ", "x" * 201])
def test_recall_without_a_reason_holds_nothing(tiny: TinyPlant, logged_in: LogIn, reason: str) -> None:
    answer = logged_in("floor").post("/admin/trace/hold/", {"lot": "R/OLD", "reason": reason})
    assert (answer.status_code, Lot.objects.filter(is_held=True).count()) == (422, 0)


def test_order_is_called_as_its_channel_calls_it(tiny: TinyPlant, logged_in: LogIn) -> None:
    text = logged_in("floor").get("/admin/trace/", {"order": str(Order.objects.get().pk)}).text
    assert "<h2>Order A of WEB</h2>" in text


def test_who_may_look_may_not_hold(tiny: TinyPlant, logged_in: LogIn) -> None:
    planner = logged_in("planner")
    assert "Hold all of it" not in planner.get("/admin/trace/", {"lot": "R/OLD"}).text
    assert planner.post("/admin/trace/hold/", {"lot": "R/OLD", "reason": "x"}).status_code == 403
    assert Movement.objects.filter(kind="hold").count() == 0


@pytest.mark.parametrize(
    "address",
    [
        "trace/?lot=NONE", "trace/?run=NONE", "trace/?order=²", "trace/?order=99999999999999999999",
        "tables/trace-delivered.csv", "tables/trace-users.csv?lot=R-NEW",
    ],
)  # fmt: skip
def test_trace_of_nothing_known_is_not_found(tiny: TinyPlant, logged_in: LogIn, address: str) -> None:
    assert logged_in("floor").get(f"/admin/{address}").status_code == 404


def test_sales_may_not_trace(tiny: TinyPlant, logged_in: LogIn) -> None:
    client = logged_in("sales")
    assert (
        client.get("/admin/trace/").status_code
        == client.get("/admin/tables/trace-spools.csv?lot=R-NEW").status_code
        == 403
    )


def test_scan_of_a_spool_begins_with_its_run(tiny: TinyPlant, logged_in: LogIn) -> None:
    run, _lot = made()
    scan = f"]d2010{tiny.black_1kg.gtin}310300100010{run}"
    assert logged_in("floor").get("/admin/trace/", {"q": scan})["Location"] == f"/admin/trace/?run={run}"
