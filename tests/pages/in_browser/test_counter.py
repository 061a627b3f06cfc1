"""The counter in a real browser: finds while somebody types, an order taken by keyboard and printed."""

from __future__ import annotations

from playwright.sync_api import expect

from inventory.rules.gs1 import spool_elements
from tests.pages.in_browser.conftest import Visit
from tests.pages.in_browser.test_every_page import axe_faults
from tests.pages.shown_plant import ShownPlant


def test_finds_come_while_somebody_types(visit: Visit) -> None:
    page = visit("/admin/stock/", role="sales")
    expect(page.get_by_role("row", name="PETG-NAT-1000")).to_be_visible()
    page.get_by_label("Words, code or GTIN").press_sequentially("rubby")
    expect(page.get_by_role("row", name="PLA-RUBY-1000")).to_be_visible()
    expect(page.get_by_role("row", name="PETG-NAT-1000")).to_have_count(0)
    expect(page.get_by_role("status").first).to_contain_text("Nothing is spelled like that")
    assert page.url.endswith("/admin/stock/?q=rubby")


def test_scan_of_a_spool_finds_its_sku_whichever_code_of_the_label_was_read(visit: Visit, shown: ShownPlant) -> None:
    gtin = shown.tiny.black_1kg.gtin
    assert gtin is not None
    elements = spool_elements(gtin=gtin, lot="R000001", net_g=1000)
    for scan in ("PLA-BLACK-1000", gtin, f"0{gtin}", elements.replace("[", "").replace("]", "")):
        page = visit("/admin/stock/", role="sales")
        page.keyboard.type(scan)
        page.keyboard.press("Enter")
        expect(page.locator("#found").get_by_text("1 SKU for")).to_be_visible()
        expect(page.get_by_role("row", name="PLA-BLACK-1000")).to_be_visible()


def test_day_of_a_run_comes_after_the_finds_by_itself(visit: Visit) -> None:
    page = visit("/admin/stock/?q=ruby", role="sales")
    expect(page.get_by_role("row", name="PLA-RUBY-1000")).to_contain_text("a run could be here for")


def test_sales_takes_an_order_and_gets_its_confirmation(visit: Visit) -> None:
    page = visit("/admin/stock/?q=PLA-BLACK-1000", role="sales")
    page.get_by_label("Spools of PLA-BLACK-1000", exact=True).fill("3")
    page.keyboard.press("Enter")
    page.get_by_label("Reference").fill("COUNTER-7")
    assert axe_faults(page) == []
    page.get_by_role("button", name="Take the order").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Order COUNTER-7 of WEB")
    expect(page.get_by_role("row", name="PLA-BLACK-1000")).to_contain_text("3 on the shelf")


def test_next_scan_takes_the_place_of_the_last_and_leaves_what_is_written_in_the_order(visit: Visit) -> None:
    page = visit("/admin/stock/?q=PLA-BLACK-1000", role="sales")
    page.get_by_role("button", name="Add PLA-BLACK-1000").click()
    page.get_by_label("Ship to").fill("Zoe at the quay")
    page.get_by_label("Words, code or GTIN").click()
    page.get_by_label("Words, code or GTIN").fill("PLA-BLACK-1000")
    page.keyboard.press("Enter")
    page.keyboard.type("PETG-NAT-1000")
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Add PETG-NAT-1000").click()
    expect(page.get_by_label("Spools of PETG-NAT-1000 in the order")).to_have_value("1")
    expect(page.get_by_label("Ship to")).to_have_value("Zoe at the quay")


def test_sales_keeps_spools_for_a_visitor_who_then_takes_them(visit: Visit) -> None:
    page = visit("/admin/stock/?q=PLA-BLACK-1000", role="sales")
    page.get_by_label("Spools of PLA-BLACK-1000", exact=True).fill("3")
    page.keyboard.press("Enter")
    page.get_by_label("Ship to").fill("the red bicycle")
    # The form proposes an hour that is ahead on the plant's clock.
    page.get_by_role("button", name="Keep for a visitor").click()
    expect(page.get_by_role("row", name="the red bicycle")).to_contain_text("3 × PLA-BLACK-1000")
    assert axe_faults(page) == []
    page.get_by_role("row", name="the red bicycle").get_by_role("button", name="Into the order").click()
    expect(page.get_by_role("region", name="The order so far")).to_contain_text("and 3 kept for this order")
    page.get_by_role("button", name="Take the order").click()
    expect(page.get_by_role("row", name="PLA-BLACK-1000")).to_contain_text("3 on the shelf")


def test_scan_of_an_order_leads_from_the_counter_to_its_confirmation(visit: Visit) -> None:
    page = visit("/admin/stock/", role="sales")
    page.keyboard.type("DUE-1")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Order DUE-1 of WEB")


def test_scan_of_nothing_known_stays_at_the_counter_and_says_so(visit: Visit) -> None:
    page = visit("/admin/stock/", role="sales")
    page.keyboard.type("NO-SUCH-ORDER")
    page.keyboard.press("Enter")
    expect(page.locator("#found").get_by_text("No SKU answers to")).to_be_visible()
    expect(page.get_by_label("Words, code or GTIN")).to_be_focused()


def test_finds_that_came_later_do_not_hide_from_a_tab_that_another_changed_the_order(visit: Visit) -> None:
    page = visit("/admin/stock/?q=PLA-BLACK-1000", role="sales")
    page.get_by_role("button", name="Add PLA-BLACK-1000").click()
    other = page.context.new_page()
    other.goto(page.url)
    other.get_by_role("button", name="Add PLA-BLACK-1000").click()
    page.get_by_label("Words, code or GTIN").fill("PETG-NAT-1000")
    page.get_by_role("button", name="Add PETG-NAT-1000").click()
    expect(page.get_by_text("another tab of yours changed the order")).to_be_visible()
    expect(page.get_by_label("Spools of PLA-BLACK-1000 in the order")).to_have_value("2")
    page.get_by_role("button", name="Add PETG-NAT-1000").click()
    expect(page.get_by_label("Spools of PETG-NAT-1000 in the order")).to_have_value("1")
