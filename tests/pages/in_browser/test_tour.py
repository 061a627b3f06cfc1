"""One day of the plant in the browser, from the order at the counter to the owner's page. Its pictures are the tour.

With PAGE_PICTURES set, each stop leaves a picture there, named by its number; no test compares them.
"""

from __future__ import annotations

from datetime import timedelta

from django.utils import timezone
from playwright.sync_api import BrowserContext, Page, expect

from inventory.models import Material, Order, OvenLoad, PlantParameters, Run, ShelfStock
from stockplan.planner.models import ListedRun
from tests.pages.in_browser.conftest import TABLET, Visit, keep_picture
from tests.pages.shown_plant import ShownPlant

NATURAL = "PETG-NAT-1000"


def test_a_day_of_the_plant_from_the_counter_to_the_owner(
    visit: Visit, context: BrowserContext, shown: ShownPlant
) -> None:
    PlantParameters.objects.update(time_zone=where_it_is_morning())
    Run.objects.update(drying_from=timezone.now() - timedelta(hours=20))
    # What is worth most comes first on its line: a release takes along what stands before it.
    ListedRun.objects.filter(rank=2).update(place_on_line=3)
    # Dries overnight, in the one oven that there is.
    Material.objects.filter(code="PETG").update(spool_dry_min_c=45, spool_dry_max_c=55, spool_dry_hours=6)
    page = take_an_order(visit, under_way=shown.run.code)
    come_in_as_another_person(context)
    release_the_next_run(visit)
    come_in_as_another_person(context)
    wind(visit)
    dry_and_pack(page)
    ship(page)
    come_in_as_another_person(context)
    look_at_the_promise(visit)


def where_it_is_morning() -> str:
    """A zone where it is nine o'clock: between cut-off and pick-up an order of the day leaves with the next."""
    hours_ahead = (9 - timezone.now().hour + 12) % 24 - 12
    # The sign of these names is that of POSIX: west is positive.
    return f"Etc/GMT{-hours_ahead:+d}"


def come_in_as_another_person(context: BrowserContext) -> None:
    context.clear_cookies()


def picture(page: Page, stop: str) -> None:
    keep_picture(page, f"tour-{stop}", viewport=TABLET, dark=False)


def take_an_order(visit: Visit, *, under_way: str) -> Page:
    """Four spools that only a run under way can bring: they are promised from it."""
    page = visit(f"/admin/stock/?q={NATURAL}", role="sales")
    page.get_by_label(f"Spools of {NATURAL}", exact=True).fill("4")
    page.keyboard.press("Enter")
    page.get_by_label("Reference").fill("TOUR-1")
    picture(page, "1-counter")
    page.get_by_role("button", name="Take the order").click()
    expect(page.get_by_role("row", name=NATURAL)).to_contain_text(f"4 of run {under_way}")
    picture(page, "2-confirmation")
    return page


def release_the_next_run(visit: Visit) -> None:
    page = visit("/admin/make-list/", role="planner")
    picture(page, "3-make-list")
    page.get_by_role("button", name="Release PETG-NATURAL-1.75").click()
    expect(page.get_by_text("Its card is ready to print.")).to_be_visible()
    assert ListedRun.objects.get(rank=1).run is not None


def wind(visit: Visit) -> None:
    page = visit("/admin/line/L1/", role="floor")
    picture(page, "4-line")
    page.get_by_label("I have read this").check()
    page.get_by_role("button", name="Start this run").click()
    page.get_by_text("The line stands", exact=True).click()
    page.get_by_role("button", name="Screen change").click()
    expect(page.get_by_text("The stop of R")).to_be_visible()
    page.get_by_role("button", name="It goes on").click()
    page.get_by_label(f"Good spools of {NATURAL}").fill("6")
    page.get_by_label("Real minutes").fill("80")
    page.get_by_label("Purge, kg").fill("1.6")
    page.get_by_role("button", name="Finish the run").click()
    expect(page.get_by_text("its spools wait for the oven.")).to_be_visible()


def dry_and_pack(page: Page) -> None:
    page.get_by_role("link", name="Oven and packing").click()
    picture(page, "5-oven")
    page.get_by_role("button", name="O1 is loaded with these", exact=True).click()
    expect(page.get_by_text("O1 is loaded; dry at")).to_be_visible()
    night_passes()
    page.get_by_role("link", name="Oven and packing").click()
    page.get_by_role("button", name="Take O1 out").click()
    page.get_by_role("button", name="These are on the shelf").click()
    expect(page.get_by_text("Nothing is dry and waits to be packed.")).to_be_visible()
    assert ShelfStock.objects.get(sku__item__code=NATURAL).on_shelf == 6


def night_passes() -> None:
    """The oven was loaded the evening before."""
    now = timezone.now()
    OvenLoad.objects.update(loaded_at=now - timedelta(hours=9), ready_at=now - timedelta(minutes=5))


def ship(page: Page) -> None:
    order = Order.objects.get(reference="TOUR-1")
    page.get_by_role("link", name="Due today").click()
    picture(page, "6-due")
    page.get_by_role("link", name="WEB TOUR-1").first.click()
    page.get_by_label(f"Spools of {NATURAL} in the box").fill("4")
    picture(page, "7-packing")
    page.get_by_role("button", name="Ship what is in the box").click()
    expect(page.get_by_text("It is complete.")).to_be_visible()
    order.refresh_from_db()
    assert order.state == "shipped"


def look_at_the_promise(visit: Visit) -> None:
    page = visit("/admin/owner/", role="owner")
    expect(page.get_by_role("heading", name="The promise, week by week")).to_be_visible()
    picture(page, "8-owner")
