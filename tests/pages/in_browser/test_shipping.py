"""A packer with a scanner, which types a code and presses Enter."""

from __future__ import annotations

import pytest
from django.utils import timezone
from playwright.sync_api import Page, Route, expect

from inventory.models import CountEntry, Movement, Order
from tests.pages.in_browser.conftest import Visit
from tests.pages.in_browser.test_every_page import open_details
from tests.pages.shown_plant import ShownPlant, place_due_order


@pytest.fixture
def order_id(shown: ShownPlant) -> int:
    """An order of three black spools."""
    return place_due_order([("PLA-BLACK-1000", 3)], reference="BOX-1", now=timezone.now())


def scan(page: Page, code: str) -> None:
    page.get_by_label("Scan a spool").fill(code)
    page.keyboard.press("Enter")


def test_packer_finds_the_order_scans_its_spools_and_ships_it(visit: Visit, shown: ShownPlant, order_id: int) -> None:
    page = visit("/admin/due/", role="floor")
    page.get_by_role("link", name="WEB BOX-1").first.click()
    expect(page.get_by_label("Scan a spool")).to_be_focused()
    gtin = str(shown.tiny.black_1kg.gtin)
    for code in ("PLA-BLACK-1000", f"0{gtin}", f"]d2010{gtin}310300100010R000001"):
        scan(page, code)
    expect(page.get_by_label("Spools of PLA-BLACK-1000 in the box")).to_have_value("3")
    page.get_by_role("button", name="Ship what is in the box").click()
    expect(page.get_by_text("It is complete.")).to_be_visible()
    assert Order.objects.get(pk=order_id).state == "shipped"


def test_scan_of_a_carton_leads_from_the_due_page_to_its_order(visit: Visit, order_id: int) -> None:
    page = visit("/admin/due/", role="floor")
    page.keyboard.type("BOX-1")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Order BOX-1 of WEB")
    expect(page.get_by_label("Scan a spool")).to_be_focused()


def test_scans_count_the_spools_of_a_sheet(visit: Visit, shown: ShownPlant) -> None:
    page = visit(shown.fill_in("/admin/counts/{sheet}/"), role="floor")
    for code in ("PETG-NAT-1000", f"0{shown.tiny.natural_1kg.gtin}"):
        scan(page, code)
    page.get_by_role("button", name="Write the counts into the books").click()
    # The books say that none lies there.
    expect(page.get_by_text("1 count differs from the books: count it once more.")).to_be_visible()
    assert CountEntry.objects.get().counted_spools == 2


def test_scanner_cannot_send_the_form_before_its_scans_are_counted(visit: Visit, order_id: int) -> None:
    page = visit(f"/admin/due/{order_id}/", role="floor")
    page.route("**/scan*.js", lambda route: route.abort())
    page.reload()
    expect(page.get_by_label("Scan a spool")).to_be_disabled()


def test_late_script_leaves_who_types_already_where_they_are(visit: Visit, order_id: int) -> None:
    page = visit(f"/admin/due/{order_id}/", role="floor")
    held: list[Route] = []

    def hold(route: Route) -> None:
        held.append(route)

    page.route("**/scan*.js", hold)
    with page.expect_request("**/scan*.js"):
        page.reload(wait_until="commit")
    field = page.get_by_label("Spools of PLA-BLACK-1000 in the box")
    field.focus()
    held[0].continue_()
    expect(page.get_by_label("Scan a spool")).to_be_enabled()
    expect(field).to_be_focused()


def test_scan_of_another_spool_is_told_and_not_counted(visit: Visit, order_id: int) -> None:
    page = visit(f"/admin/due/{order_id}/", role="floor")
    scan(page, "PLA-RUBY-1000")
    expect(page.get_by_text("This is not in the order: PLA-RUBY-1000")).to_be_visible()
    expect(page.get_by_label("Spools of PLA-BLACK-1000 in the box")).to_have_value("")


def test_scan_beyond_the_order_is_told_and_not_counted(visit: Visit, order_id: int) -> None:
    page = visit(f"/admin/due/{order_id}/", role="floor")
    for _ in range(4):
        scan(page, "PLA-BLACK-1000")
    expect(page.get_by_text("Enough of it is in the box already: PLA-BLACK-1000")).to_be_visible()
    expect(page.get_by_label("Spools of PLA-BLACK-1000 in the box")).to_have_value("3")


# WCAG 2.2, 2.5.5 (enhanced): 44 by 44 px of CSS.
LEAST_PX = 44
SIZES = """() => [...document.querySelectorAll("#content *")]
    .filter((one) => one.matches("button, .button, input, select, textarea, summary"))
    .filter((one) => one.type !== "hidden" && one.checkVisibility())
    .map((one) => [one.outerHTML.slice(0, 90), Math.round(one.getBoundingClientRect().height)])"""


def test_finger_hits_every_button_and_field_of_shipping_and_store(visit: Visit, order_id: int) -> None:
    for path in ("/admin/due/", f"/admin/due/{order_id}/", "/admin/store/count/"):
        page = visit(path, role="floor")
        page.context.new_cdp_session(page).send("Emulation.setTouchEmulationEnabled", {"enabled": True})
        assert page.evaluate("matchMedia('(pointer: coarse)').matches")
        open_details(page)
        found = page.evaluate(SIZES)
        assert found
        assert [(what, height) for what, height in found if height < LEAST_PX] == []


def test_form_is_sent_once_however_often_its_button_is_pressed(visit: Visit, shown: ShownPlant) -> None:
    page = visit("/admin/store/own-use/", role="floor")
    page.get_by_label("SKU").fill("PLA-BLACK-1000")
    page.get_by_label("Spools").fill("1")
    page.get_by_label("Why").fill("test print")
    held: list[Route] = []

    def hold(route: Route) -> None:
        held.append(route)

    page.route("**/write/", hold)
    button = page.get_by_role("button", name="Write into the books")
    # A click of the tests themselves would wait for the answer to the first.
    button.evaluate("button => { button.click(); setTimeout(() => button.click(), 100); }")
    page.wait_for_timeout(400)
    assert len(held) == 1
    held[0].continue_()
    expect(page.get_by_text("Written into the books: own use.")).to_be_visible()
    assert Movement.objects.filter(kind="own_use").count() == 1
