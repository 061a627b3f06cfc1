"""The packer at the oven: loads what the page proposes, and finds it drying."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from inventory.models import Run
from inventory.rules.clock import Clock
from inventory.services.runs import finish_run, start_run
from tests.pages.in_browser.conftest import Visit
from tests.pages.in_browser.test_every_page import axe_faults
from tests.pages.shown_plant import ShownPlant


@pytest.fixture
def lot(shown: ShownPlant) -> str:
    """Six spools of black from a run that ended just now."""
    now = timezone.now()
    yesterday, before = now - timedelta(days=1), now - timedelta(hours=1)
    Run.objects.update(
        filament=shown.tiny.black, drying_from=yesterday, released_at=yesterday, released_known_at=yesterday
    )
    start_run(run_code=shown.run.code, clock=Clock.at(before))
    [code] = finish_run(
        run_code=shown.run.code,
        good={"PLA-BLACK-1000": 6},
        scrap={},
        real_minutes=Decimal(50),
        purge_kg=Decimal(1),
        clock=Clock.at(now),
    ).lot_codes
    return code


def test_packer_loads_the_oven_as_proposed(visit: Visit, lot: str) -> None:
    page = visit("/admin/ovens/", role="floor")
    expect(page.get_by_label(f"Spools of {lot} into O1")).to_have_value("6")
    page.get_by_role("button", name="O1 is loaded with these", exact=True).click()
    expect(page.get_by_text("O1 is loaded; dry at")).to_be_visible()
    expect(page.get_by_role("row", name=lot)).to_contain_text("6")
    expect(page.get_by_text("No oven is empty.")).to_be_visible()


def test_packer_fills_a_cart_by_scan_and_loads_it(visit: Visit, shown: ShownPlant, lot: str) -> None:
    page = visit("/admin/ovens/", role="floor")
    page.get_by_label("Scan a cart").fill("CART-1")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Cart CART-1")
    # Each scan of a spool's label counts one; its DataMatrix says GTIN, net mass and run.
    for scan in (lot, f"010{shown.tiny.black_1kg.gtin}310300100010{shown.run.code}"):
        page.get_by_label("Scan a spool").fill(scan)
        page.keyboard.press("Enter")
    expect(page.get_by_label(f"Spools of {lot} on the cart")).to_have_value("2")
    page.get_by_label("Scan a spool").fill(f"010{shown.tiny.black_1kg.gtin}310300100010R999999")
    page.keyboard.press("Enter")
    expect(page.get_by_text("No wound spools of this lot:")).to_be_visible()
    assert axe_faults(page) == []
    page.get_by_role("button", name="These are on the cart").click()
    page.get_by_role("link", name="Oven and packing").first.click()
    page.get_by_label("Or scan the carts that are in O1").fill("CART-1")
    assert axe_faults(page) == []
    page.get_by_role("button", name="O1 is loaded with these carts").click()
    expect(page.get_by_role("row", name="CART-1")).to_contain_text("in oven O1, dry at")
