"""The planner puts runs into another order without a pointer: by keys, by numbers, and by numbers without scripts."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from inventory.models import Run
from stockplan.planner.selectors.line_orders import line_orders
from tests.pages.in_browser.conftest import PHONE, Visit
from tests.pages.in_browser.test_every_page import axe_faults
from tests.pages.shown_plant import ShownPlant


def places(page: Page) -> list[tuple[str, str]]:
    fields = page.locator("input.place").all()
    return [(field.get_attribute("name") or "", field.input_value()) for field in fields]


def test_keys_move_the_run_that_has_the_focus_and_say_so(visit: Visit, shown: ShownPlant, second_run: Run) -> None:
    page = visit("/admin/make-list/lines/")
    field = page.locator(f"input[name=place-{second_run.code}]")
    field.focus()
    page.keyboard.press("Alt+ArrowUp")
    said = page.locator("#run-order [role=status]")
    expect(said).to_have_text("PLA-BLACK-1.75 now has place 1 on L1.")
    assert places(page)[:2] == [(f"place-{second_run.code}", "1"), (f"place-{shown.run.code}", "2")]
    expect(field).to_be_focused()
    page.keyboard.press("Alt+ArrowUp")
    assert places(page)[0][0] == f"place-{second_run.code}"
    page.keyboard.press("Alt+ArrowDown")
    page.keyboard.press("Alt+ArrowDown")
    expect(said).to_have_text("PLA-BLACK-1.75 stays: released runs come before those that are not.")
    page.keyboard.press("Alt+ArrowUp")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Another order of runs")).to_be_visible()
    assert axe_faults(page) == []
    page.get_by_role("button", name="Set this order").press("Enter")
    expect(page.get_by_text("The order is set. 2 released runs have a new plan.")).to_be_visible()
    assert [run.key for run in line_orders().runs][:2] == [second_run.code, shown.run.code]


@pytest.mark.parametrize("java_script", [True, False])
def test_number_alone_does_it_with_and_without_scripts(
    visit: Visit, shown: ShownPlant, second_run: Run, java_script: bool
) -> None:
    page = visit("/admin/make-list/lines/")
    if not java_script:
        page.route("**/*.js", lambda route: route.abort())
        page.reload()
    page.get_by_label("Place of PLA-BLACK-1.75 on L1").first.fill("1")
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Set this order").click()
    expect(page.get_by_text("The order is set.")).to_be_visible()
    assert [run.key for run in line_orders().runs][:2] == [second_run.code, shown.run.code]


def test_bad_number_is_read_out_with_its_field(visit: Visit, shown: ShownPlant) -> None:
    page = visit("/admin/make-list/lines/", viewport=PHONE)
    page.locator("#run-order").evaluate("form => form.noValidate = true")
    page.locator("input[name=place-rank-1]").fill("9")
    page.keyboard.press("Enter")
    field = page.locator("input[name=place-rank-1]")
    expect(field).to_have_accessible_description(re.compile(r"^Type the place .* L1 then has places 1 to 3, got 9\.$"))
    assert axe_faults(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
