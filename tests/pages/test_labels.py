"""Labels, pick list and packing slip as they leave the site."""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO

import biip
import pypdfium2
import pytest
import zxingcpp
from django.http import HttpResponse
from django.test import Client
from django.utils import timezone
from pypdf import PdfReader

from inventory.models import Order, Sku
from tests.pages.shown_plant import ShownPlant, place_due_order

LogIn = Callable[[str], Client]
SIZE = {"width": "62", "height": "29"}


def spools_of(shown: ShownPlant) -> str:
    return f"/admin/labels/spools/{shown.run.code}.pdf"


def texts_of(answer: HttpResponse) -> list[str]:
    assert answer["Content-Type"] == "application/pdf"
    return [page.extract_text() for page in PdfReader(BytesIO(answer.content)).pages]


def codes_of(answer: HttpResponse) -> set[str]:
    """What a scanner reads on the first page: rendered by PDFium, decoded by ZXing."""
    image = pypdfium2.PdfDocument(answer.content)[0].render(scale=4, grayscale=True).to_numpy().squeeze()
    return {code.bytes.decode() for code in zxingcpp.read_barcodes(image)}


def test_spool_labels_of_a_run_say_sku_gtin_lot_and_mass(shown: ShownPlant, logged_in: LogIn) -> None:
    answer = logged_in("floor").get(spools_of(shown), {**SIZE, "spools PETG-NAT-1000": "2"})
    pages = texts_of(answer)
    assert len(pages) == 2
    # 1000 g are 2.2046 lb (the international avoirdupois pound is 453.59237 g).
    assert "net 1 kg (2.20 lb)" in pages[0]
    codes = codes_of(answer)
    assert "PETG-NAT-1000" in codes
    [elements] = codes - {"PETG-NAT-1000"}
    message = biip.parse(elements).gs1_message
    assert message is not None
    assert {one.ai.ai: one.value for one in message.element_strings} == {
        "01": f"0{shown.tiny.natural_1kg.gtin}",
        "3103": "001000",
        "10": shown.run.code,
    }


def test_mass_below_a_pound_is_given_in_ounces(shown: ShownPlant, logged_in: LogIn) -> None:
    # 250 g are 8.8185 oz.
    answer = logged_in("sales").get("/admin/labels/shelf/PLA-BLACK-250.pdf", SIZE)
    assert "net 250 g (8.8 oz)" in texts_of(answer)[0]


def test_shelf_label_says_place_and_code(shown: ShownPlant, logged_in: LogIn) -> None:
    Sku.objects.filter(pk=shown.ruby_1kg.pk).update(shelf_place="D06-5")
    answer = logged_in("sales").get("/admin/labels/shelf/PLA-RUBY-1000.pdf", SIZE)
    assert "D06-5" in texts_of(answer)[0]
    assert codes_of(answer) == {"PLA-RUBY-1000"}


def test_spool_without_gtin_has_its_code_alone(shown: ShownPlant, logged_in: LogIn) -> None:
    Sku.objects.filter(pk=shown.tiny.natural_1kg.pk).update(gtin=None)
    answer = logged_in("floor").get(spools_of(shown), {**SIZE, "spools PETG-NAT-1000": "1"})
    assert "no GTIN" in texts_of(answer)[0]
    assert codes_of(answer) == {"PETG-NAT-1000"}


def test_carton_labels_are_numbered(shown: ShownPlant, logged_in: LogIn) -> None:
    answer = logged_in("floor").get(f"/admin/labels/cartons/{shown.order_id}.pdf", {**SIZE, "cartons": "3"})
    assert ["Carton 3 of 3" in page for page in texts_of(answer)] == [False, False, True]
    assert codes_of(answer) == {"DUE-1"}


def test_labels_on_plain_paper_stand_on_one_sheet(shown: ShownPlant, logged_in: LogIn) -> None:
    asked = {**SIZE, "on": "sheet", "spools PETG-NAT-1000": "6"}
    [page] = texts_of(logged_in("floor").get(spools_of(shown), asked))
    assert page.count(f"Lot {shown.run.code}") == 6


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"width": "62"}, "width and height"),
        ({"width": "10", "height": "29"}, "width of a label is 38 to 210 mm, got 10"),
        ({**SIZE, "spools PETG-NAT-1000": "0"}, "no label is asked for"),
        ({**SIZE, "spools PETG-NAT-1000": "2001"}, "at most 2000 spools"),
        ({"width": "wide", "height": "29"}, "a number such as 1.75"),
    ],
)
def test_what_makes_no_label_is_said(shown: ShownPlant, logged_in: LogIn, asked: dict[str, str], said: str) -> None:
    answer = logged_in("floor").get(spools_of(shown), asked)
    assert answer.status_code == 422
    assert said in answer.text


@pytest.mark.parametrize("path", ["spools/NO-SUCH", "shelf/NO-SUCH", "cartons/999999"], ids=["run", "SKU", "order"])
def test_label_of_what_is_not_there_is_not_found(shown: ShownPlant, logged_in: LogIn, path: str) -> None:
    assert logged_in("owner").get(f"/admin/labels/{path}.pdf", SIZE).status_code == 404


def test_sales_prints_no_spool_labels(shown: ShownPlant, logged_in: LogIn) -> None:
    assert logged_in("sales").get(spools_of(shown), SIZE).status_code == 403


def test_packing_slip_lists_what_is_open_by_shelf_place(shown: ShownPlant, logged_in: LogIn) -> None:
    Sku.objects.filter(pk=shown.tiny.black_1kg.pk).update(shelf_place="Z9")
    Sku.objects.filter(pk=shown.ruby_1kg.pk).update(shelf_place="A1")
    [page] = texts_of(logged_in("floor").get(f"/admin/due/{shown.order_id}/packing-slip.pdf"))
    assert "Packing slip: order DUE-1 of WEB" in page
    assert 0 < page.index("A1") < page.index("Z9")


def test_packing_slip_carries_the_code_of_the_carton(shown: ShownPlant, logged_in: LogIn) -> None:
    floor = logged_in("floor")
    slip = floor.get(f"/admin/due/{shown.order_id}/packing-slip.pdf")
    assert codes_of(slip) == codes_of(floor.get(f"/admin/labels/cartons/{shown.order_id}.pdf", SIZE)) == {"DUE-1"}


def test_packing_slip_of_the_longest_reference_is_still_read(shown: ShownPlant, logged_in: LogIn) -> None:
    longest = "Order-" + "x7" * 29
    Order.objects.filter(pk=shown.order_id).update(reference=longest)
    assert codes_of(logged_in("floor").get(f"/admin/due/{shown.order_id}/packing-slip.pdf")) == {longest}


def test_packing_slip_of_an_unknown_order_is_not_found(shown: ShownPlant, logged_in: LogIn) -> None:
    assert logged_in("floor").get("/admin/due/999999/packing-slip.pdf").status_code == 404


def test_pick_list_adds_up_what_ready_orders_take(shown: ShownPlant, logged_in: LogIn) -> None:
    place_due_order([("PLA-BLACK-1000", 3)], reference="DUE-2", now=timezone.now())
    [page] = texts_of(logged_in("floor").get("/admin/due/pick-list.pdf"))
    assert "Orders that are ready: 1." in page
    assert "PLA-BLACK-1000" in page
