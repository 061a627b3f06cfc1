"""The floor at the tablet, from the cautions to the last spool."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from inventory.models import Run
from tests.pages.in_browser.conftest import Visit
from tests.pages.in_browser.test_every_page import axe_faults
from tests.pages.shown_plant import ShownPlant

# Letters of 7 mm are read at two metres (a 300th of the distance; common practice, no source): capitals of about 0.7
# of the size of the letters, at the 96 px an inch of CSS: 7 / 25.4 x 96 / 0.7.
LEAST_PX = 37


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


def test_filament_of_the_line_is_read_at_two_metres(visit: Visit, dry: None) -> None:
    page = visit("/admin/line/L1/", role="floor")
    size = page.get_by_text("PETG Natural 1.75 mm").first.evaluate("e => parseFloat(getComputedStyle(e).fontSize)")
    assert size >= LEAST_PX


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
