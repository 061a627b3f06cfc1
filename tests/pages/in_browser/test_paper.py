"""What comes out of the printer: A4 by ISO 216, 210 by 297 mm, which is 595 by 842 points of 1/72 inch."""

from __future__ import annotations

from io import BytesIO

from playwright.sync_api import Page
from pypdf import PdfReader

from inventory.models import RunOutput, SpoolSize
from tests.inventory.builders import build_sku
from tests.pages.in_browser.conftest import Visit
from tests.pages.shown_plant import ShownPlant

A4_PORTRAIT_POINTS = (595, 842)
SIZES_SOLD = 6


def test_run_card_prints_on_one_page_with_every_size_of_the_trade(visit: Visit, shown: ShownPlant) -> None:
    give_every_size(shown)
    pages = printed(visit(f"/admin/run-cards/{shown.run.code}/"))
    assert len(pages.pages) == 1
    assert (round(pages.pages[0].mediabox.width), round(pages.pages[0].mediabox.height)) == A4_PORTRAIT_POINTS


def test_run_card_prints_its_cautions_before_the_first_step(visit: Visit, shown: ShownPlant) -> None:
    text = printed(visit(f"/admin/run-cards/{shown.run.code}/")).pages[0].extract_text()
    assert 0 <= text.index("Before you touch the machine") < text.index("1. Dry") < text.index("4. Run and measure")


def test_printed_run_card_leaves_out_what_is_only_for_the_screen(visit: Visit, shown: ShownPlant) -> None:
    text = printed(visit(f"/admin/run-cards/{shown.run.code}/")).pages[0].extract_text()
    assert "Print the card" not in text
    assert "Log out" not in text


def test_week_prints_lying_a4(visit: Visit) -> None:
    sheet = printed(visit("/admin/make-list/week/")).pages[0].mediabox
    assert (round(sheet.height), round(sheet.width)) == A4_PORTRAIT_POINTS


def give_every_size(shown: ShownPlant) -> None:
    """Have the run wind as many sizes as the demo plant sells."""
    first = RunOutput.objects.get(run=shown.run)
    part = first.sku.spool_size.spool_part
    for number in range(1, SIZES_SOLD):
        size = SpoolSize.objects.create(
            code=f"MORE{number}",
            net_g=1000 + number,
            tare_g=200,
            spool_part=part,
            max_temp_c=70,
        )
        sku = build_sku(f"NATURAL-{number}", filament=shown.tiny.natural, size=size, number=50 + number, value="1")
        RunOutput.objects.create(
            run=shown.run, sku=sku, planned=3, awaited=3, shelf_at=first.shelf_at, shelf_day=first.shelf_day
        )


def printed(page: Page) -> PdfReader:
    return PdfReader(BytesIO(page.pdf(prefer_css_page_size=True)))
