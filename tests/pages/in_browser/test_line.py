"""The floor at the tablet, from the cautions to the last spool."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Locator, expect

from inventory.models import Run
from tests.pages.in_browser.conftest import Visit
from tests.pages.in_browser.test_every_page import axe_faults, open_details
from tests.pages.shown_plant import ShownPlant

# Letters of 7 mm are read at two metres (a 300th of the distance; common practice, no source): capitals of about 0.7
# of the size of the letters, at the 96 px an inch of CSS: 7 / 25.4 x 96 / 0.7.
LEAST_PX = 37
# Half an inch at the 96 px an inch of CSS: a fingertip in a glove (common practice, no source).
LEAST_GLOVE_PX = 48
# Below the head of the site, which is for desks.
TARGETS = """() => [...document.querySelectorAll(".work-nav a, #content *")]
    .filter((one) => one.matches("a, button, input, select, textarea, summary"))
    .filter((one) => one.type !== "hidden" && one.checkVisibility())
    .map((one) => [one.outerHTML.slice(0, 90), one.getBoundingClientRect()])
    .map(([what, box]) => [what, Math.round(box.width), Math.round(box.height)])"""


@pytest.fixture
def dry(shown: ShownPlant) -> None:
    Run.objects.update(drying_from=timezone.now() - timedelta(hours=20))


def test_floor_starts_measures_and_finishes_a_run(visit: Visit, dry: None) -> None:
    page = visit("/admin/line/", role="floor")
    page.get_by_role("link", name="Line L1").click()
    page.get_by_label("I have read this").check()
    page.get_by_role("button", name="Start this run").click()
    expect(page.get_by_text("is started.")).to_be_visible()
    page.get_by_label("Diameters").fill("1.75 1.76")
    page.get_by_role("button", name="Post the readings").click()
    expect(page.get_by_text("2 readings are posted, all inside.")).to_be_visible()
    page.get_by_label("Good spools of PETG-NAT-1000").fill("6")
    page.get_by_label("Real minutes").fill("80")
    page.get_by_label("Purge, kg").fill("1.6")
    page.get_by_role("button", name="Finish the run").click()
    expect(page.get_by_text("its spools wait for the oven.")).to_be_visible()
    assert Run.objects.get().state == "finished"


def test_start_waits_for_the_tick_under_the_cautions(visit: Visit, dry: None) -> None:
    page = visit("/admin/line/L1/", role="floor")
    page.get_by_role("button", name="Start this run").click()
    expect(page.get_by_role("button", name="Start this run")).to_be_visible()
    assert Run.objects.get().state == "released"


def sizes_px(texts: Locator) -> list[float]:
    return [one.evaluate("e => parseFloat(getComputedStyle(e).fontSize)") for one in texts.all()]


def test_next_run_is_read_at_two_metres(visit: Visit, shown: ShownPlant) -> None:
    Run.objects.update(drying_from=timezone.now())
    page = visit("/admin/line/L1/", role="floor")
    facts = [
        page.get_by_text("PETG Natural 1.75 mm"),
        page.get_by_text("6 × 1 kg"),
        page.get_by_text(re.compile(r"^Starts \w{3} ")),
        page.locator("[data-clock]"),
    ]
    for fact in facts:
        expect(fact).not_to_have_count(0)
        assert min(sizes_px(fact)) >= LEAST_PX


def test_run_under_way_and_why_it_stands_are_read_at_two_metres(visit: Visit, dry: None) -> None:
    page = visit("/admin/line/L1/", role="floor")
    page.get_by_label("I have read this").check()
    page.get_by_role("button", name="Start this run").click()
    page.get_by_text("The line stands", exact=True).click()
    page.get_by_role("button", name="Screen change").click()
    for fact in ("PETG Natural 1.75 mm", "6 × 1 kg", re.compile(r"^Ends \w{3} "), "screen change"):
        assert min(sizes_px(page.get_by_text(fact).locator("visible=true").first)) >= LEAST_PX


@pytest.mark.parametrize("path", ["/admin/line/", "/admin/line/L1/", "/admin/ovens/", "/admin/carts/CART-1/"])
def test_a_glove_hits_what_can_be_pressed(visit: Visit, dry: None, path: str) -> None:
    page = visit(path, role="floor")
    open_details(page)
    found = page.evaluate(TARGETS)
    assert found
    assert [(what, width, height) for what, width, height in found if min(width, height) < LEAST_GLOVE_PX] == []


def test_means_and_ranges_of_the_readings_are_drawn(visit: Visit, dry: None) -> None:
    page = visit("/admin/line/L1/", role="floor")
    page.get_by_label("I have read this").check()
    page.get_by_role("button", name="Start this run").click()
    page.get_by_label("Diameters").fill(" ".join(f"{1.748 + (7 * n) % 5 / 1000:.3f}" for n in range(40)))
    page.get_by_role("button", name="Post the readings").click()
    page = visit(f"/admin/run-cards/{Run.objects.get().code}/quality/")
    for name in ("Means of 8 subgroups", "Ranges of 8 subgroups"):
        expect(page.get_by_role("img", name=name).locator("svg path").first).to_be_attached()
    assert axe_faults(page) == []
