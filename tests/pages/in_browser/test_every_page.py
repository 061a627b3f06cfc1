"""The pages in a real browser: what axe-core finds, what fits, what the keyboard reaches, what leaves the house.

axe-core (vendored under its licence) checks against the success criteria of WCAG 2.2, levels A and AA.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import urlparse

import pytest
from django.contrib.auth.models import User
from playwright.sync_api import BrowserContext, Page, expect
from pytest_django.live_server_helper import LiveServer

from stockplan.planner.pages.working_pages import WORKING_PAGES
from tests.pages.conftest import PASSWORD
from tests.pages.in_browser.conftest import PHONE, TABLET, Visit, keep_picture
from tests.pages.shown_plant import WORKING_PATHS, ShownPlant

AXE = (Path(__file__).parent / "vendor" / "axe.min.js").read_text(encoding="utf-8")
RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}
PATHS = [
    *WORKING_PATHS,
    "/admin/stock/?q=nothing",
    "/admin/inventory/sku/",
    "/admin/inventory/order/",
    "/admin/planner/listedrun/",
    "/admin/inventory/sku/import/",
]
# A screen of 1280 pixels.
ZOOMED = {"width": 640, "height": 400}
# Elements that hold more than they show, and cannot be scrolled. What only a screen reader is meant to find is 1 px.
CUT_OFF = """() => [...document.querySelectorAll("body *")]
    .filter((one) => one.clientWidth > 1 && /hidden|clip/.test(getComputedStyle(one).overflowX))
    .filter((one) => one.scrollWidth > one.clientWidth + 1)
    .map((one) => one.outerHTML.slice(0, 200))"""

on_every_page = pytest.mark.parametrize("path", PATHS)


@on_every_page
@pytest.mark.parametrize("context", [2], ids=["200 %"], indirect=True)
def test_page_zoomed_to_twice_its_size_needs_no_scrolling_sideways_and_cuts_nothing_off(
    visit: Visit, shown: ShownPlant, path: str
) -> None:
    # WCAG 2.2, 1.4.4: to a page, a zoom of 200 % is half the width, and two pixels of the screen for each of its own.
    page = visit(shown.fill_in(path), role="owner", viewport=ZOOMED)
    open_details(page)
    assert page.evaluate("[window.innerWidth, window.devicePixelRatio]") == [ZOOMED["width"], 2]
    assert page.evaluate("document.documentElement.scrollWidth") <= ZOOMED["width"]
    assert page.evaluate(CUT_OFF) == []


@on_every_page
def test_page_fits_phone_and_tablet_is_light_asks_no_other_host_reports_no_fault_and_passes_axe(
    visit: Visit, context: BrowserContext, live_server: LiveServer, shown: ShownPlant, path: str
) -> None:
    # One test, as to build the plant and to open the page takes as long as to look at it.
    asked: list[str] = []
    faults: list[str] = []
    context.on("request", lambda request: asked.append(urlparse(request.url).netloc))
    context.on("console", lambda message: faults.append(message.text) if message.type == "error" else None)
    context.on("weberror", lambda error: faults.append(str(error.error)))
    page = visit(shown.fill_in(path), role="owner", viewport=PHONE)
    page.wait_for_load_state("networkidle")
    assert len(page.content().encode()) < 200_000
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    page.set_viewport_size(TABLET)  # type: ignore[arg-type]
    assert page.evaluate("document.documentElement.scrollWidth") <= TABLET["width"]
    assert set(asked) == {urlparse(live_server.url).netloc}
    # What axe does to a page may be refused by its policy, so faults are asked for before.
    assert faults == []
    keep_picture(page, shown.fill_in(path), viewport=TABLET, dark=False)
    found = {"light": opened_axe_faults(page)}
    found["dark"] = opened_axe_faults(visit(shown.fill_in(path), role="owner", dark=True))
    assert found == {"light": [], "dark": []}


@pytest.mark.parametrize("role", ["sales", "planner", "floor", "owner"])
def test_person_logs_in_and_lands_on_the_entry_page(
    context: BrowserContext, live_server: LiveServer, shown: ShownPlant, person: Callable[[str], User], role: str
) -> None:
    page = context.new_page()
    page.goto(f"{live_server.url}/admin/")
    page.get_by_label("Username").fill(person(role).username)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Log in").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Start")


def test_head_of_the_site_is_read_and_hit_as_the_page_below_it(visit: Visit) -> None:
    page = visit("/admin/stock/", role="sales")
    for one in (page.get_by_role("link", name="Change password"), page.get_by_role("button", name="Log out")):
        size, case, height = one.evaluate(
            "e => [getComputedStyle(e).fontSize, getComputedStyle(e).textTransform, e.getBoundingClientRect().height]"
        )
        assert (size, case) == ("15px", "none")
        # WCAG 2.2, 2.5.8: 24 px.
        assert height >= 24


def test_search_finds_a_sku_and_shows_what_is_free(visit: Visit) -> None:
    page = visit("/admin/stock/", role="sales")
    page.get_by_label("Words, code or GTIN").fill("black s1000")
    page.keyboard.press("Enter")
    row = page.get_by_role("row", name="PLA-BLACK-1000")
    # Ten on the shelf, two of them belong to an order.
    expect(row.get_by_role("cell").first).to_have_text("8")


def test_search_field_has_the_focus_so_that_a_scanner_may_type(visit: Visit) -> None:
    page = visit("/admin/stock/", role="sales")
    expect(page.get_by_label("Words, code or GTIN")).to_be_focused()


def test_cut_off_counts_down(visit: Visit) -> None:
    page = visit("/admin/stock/", role="sales")
    first = page.locator("[data-clock]").inner_text()
    expect(page.locator("[data-clock]")).not_to_have_text(first, timeout=3000)


def test_passed_cut_off_is_said(visit: Visit) -> None:
    page = visit("/admin/stock/", role="sales")
    page.route("**/admin/stock/", one_second_before_the_cut_off)
    page.reload()
    expect(page.get_by_text("The cut-off has passed")).to_be_visible(timeout=5000)


def test_field_for_a_code_offers_those_that_hold_what_is_typed(visit: Visit) -> None:
    page = visit("/admin/store/own-use/", role="floor")
    page.get_by_label("SKU").press_sequentially("ruby")
    expect(page.locator("datalist option")).to_have_count(1)
    expect(page.locator("datalist option")).to_have_attribute("value", "PLA-RUBY-1000")


def test_make_list_begins_with_rank_1(visit: Visit) -> None:
    page = visit("/admin/make-list/")
    first = page.get_by_role("table").first.get_by_role("row").nth(1)
    expect(first.get_by_role("cell").first).to_have_text("1")
    expect(first).to_contain_text("PETG Natural 1.75 mm")


def test_planner_releases_a_run_and_opens_its_card(visit: Visit) -> None:
    page = visit("/admin/make-list/")
    page.get_by_role("button", name="Release PLA-BLACK-1.75").click()
    expect(page.get_by_text("Its card is ready to print.")).to_be_visible()
    page.get_by_role("table").first.get_by_role("link", name="Run card").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Run")


def test_planner_computes_a_new_list(visit: Visit) -> None:
    page = visit("/admin/make-list/")
    page.get_by_role("button", name="Compute a new list").click(timeout=60_000)
    expect(page.get_by_text("A new list was computed")).to_be_visible(timeout=60_000)


def test_planner_pins_a_filament_by_keyboard_alone(visit: Visit) -> None:
    page = visit("/admin/filaments/PLA-SAND-1.75/")
    tab_to(page, "Pin")
    page.keyboard.press("Enter")
    expect(page.get_by_text("PLA-SAND-1.75 is pinned.")).to_be_visible()


def test_working_pages_are_the_first_stops_of_the_keyboard(visit: Visit) -> None:
    page = visit("/admin/make-list/")
    # Before them: past the navigation, the site's name, second factor, password, log-out, theme and start page.
    tab_to(page, "Run cards", most=7 + len(WORKING_PAGES))
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Run cards")


def test_charts_are_drawn_as_svg_and_name_themselves(visit: Visit) -> None:
    page = visit("/admin/skus/PLA-BLACK-1000/")
    fan = page.get_by_role("img", name="Projected")
    expect(fan.locator("svg path").first).to_be_attached()
    expect(page.get_by_role("img", name="Spools due by week").locator("svg path").first).to_be_attached()


def test_outcomes_by_tenth_are_drawn_as_ten_bars_and_stand_in_a_table(visit: Visit) -> None:
    page = visit("/admin/skus/PLA-BLACK-1000/")
    picture = page.get_by_role("img", name="Where the outcomes of 8 past risk periods fell")
    expect(picture.locator("svg path").first).to_be_attached()
    page.get_by_text("The same as a table").nth(1).click()
    expect(page.get_by_role("rowheader", name="90–100")).to_be_visible()


def test_classes_of_the_calibration_are_told_apart_by_stroke(visit: Visit) -> None:
    page = visit("/admin/forecast/")
    picture = page.get_by_role("img", name="Share of past outcomes")
    assert picture.locator("svg path[stroke-dasharray]").count() >= 1


def test_bands_of_the_fan_are_told_apart_by_hatching(visit: Visit) -> None:
    page = visit("/admin/skus/PLA-BLACK-1000/")
    assert page.get_by_role("img", name="Projected").locator("svg pattern").count() >= 2


@pytest.mark.parametrize("width", [1024, 1280])
@pytest.mark.parametrize(
    "records", ["inventory/sku", "inventory/spoolsize", "planner/listedrun", "planner/stocktarget"]
)
def test_list_of_records_is_not_cut_off(visit: Visit, shown: ShownPlant, records: str, width: int) -> None:
    page = visit(f"/admin/{records}/", role="owner", viewport={"width": width, "height": 800})
    box = page.locator("#changelist .results")
    assert box.evaluate("box => box.scrollWidth - box.clientWidth") <= 0
    # Import, export and add stood beside the list and pushed it aside.
    assert box.evaluate("box => box.getBoundingClientRect().left") < 50


def open_details(page: Page) -> None:
    """Open what is folded, so that it is checked as well."""
    page.evaluate("document.querySelectorAll('details').forEach((part) => { part.open = true; })")


def opened_axe_faults(page: Page) -> list[Any]:
    """What axe finds once everything is unfolded."""
    open_details(page)
    return axe_faults(page)


def axe_faults(page: Page) -> list[Any]:
    """Rule, help and element of every violation. Evaluated by the debugger, so the page's policy does not bar it."""
    page.evaluate(AXE)
    found = page.evaluate("(rules) => axe.run(document, rules)", RULES)
    return [(fault["id"], fault["help"], node["html"]) for fault in found["violations"] for node in fault["nodes"]]


def tab_to(page: Page, name: str, *, most: int = 60) -> None:
    """Press the tab key until the element of that text has the focus."""
    for _ in range(most):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.innerText?.trim()") == name:
            return
    pytest.fail(f"The keyboard does not reach {name!r} in {most} steps.")


def one_second_before_the_cut_off(route: Any) -> None:
    """Answer with the page as the server would give it one second before the cut-off."""
    answer = route.fetch()
    body = answer.text()
    until = body.split('data-until="')[1].split('"')[0]
    now = body.split('data-now="')[1].split('"')[0]
    route.fulfill(response=answer, body=body.replace(f'data-now="{now}"', f'data-now="{int(until) - 1}"'))
