"""Run card and week as PDF, as a reader of PDF finds them."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from io import BytesIO

import pytest
from django.test import Client
from django.utils import timezone
from pypdf import PdfReader

from inventory.models import Colour, Run
from inventory.rules.clock import Clock
from inventory.services.runs import cancel_run, finish_run, start_run
from stockplan.planner.models import ListedRun, MakeList
from stockplan.planner.templatetags.planner_pages import moment
from tests.pages.shown_plant import ShownPlant

LogIn = Callable[[str], Client]


def pages_of(client: Client, path: str) -> list[str]:
    answer = client.get(path)
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    return [" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(answer.content)).pages]


def test_run_card_says_what_to_dry_wind_and_sign_and_carries_the_cautions(shown: ShownPlant, logged_in: LogIn) -> None:
    text = " ".join(pages_of(logged_in("floor"), f"/admin/run-cards/{shown.run.code}.pdf"))
    assert f"Run {shown.run.code} on line L1: PETG Natural 1.75 mm" in text
    assert [words in text for words in ("Spools of 1 kg 6, scale", "Resin RESIN-PETG", "Line handed over clean")] == [
        True
    ] * 3
    assert text.count("The machine's manual") == 1


def test_run_card_of_a_finished_run_says_what_was_made(shown: ShownPlant, logged_in: LogIn) -> None:
    now, code = timezone.now(), shown.run.code
    # A half is rounded as on the pages.
    Run.objects.update(planned_purge_kg="2.85", drying_from=now - timedelta(hours=5))
    start_run(run_code=code, clock=Clock.at(now))
    done = {"good": {"PETG-NAT-1000": 5}, "scrap": {"PETG-NAT-1000": 1}, "real_minutes": Decimal(40)}
    finish_run(run_code=code, **done, purge_kg=Decimal(2), clock=Clock.at(now))
    floor = logged_in("floor")
    [text] = pages_of(floor, f"/admin/run-cards/{code}.pdf")
    assert re.search(r"Purge 2\.9 kg 2\.0 kg Spools of 1 kg 6, scale \d+ g 5 good, 1 scrap", text.replace("\xa0", " "))
    page = floor.get(f"/admin/run-cards/{code}/").text
    assert '<td class="num strong">5</td><td class="num">1</td>' in page
    assert "purge 2.9 kg" in page


def test_week_is_one_sheet_a_line_in_its_order(shown: ShownPlant, logged_in: LogIn) -> None:
    start = ListedRun.objects.get(rank=1).start
    ListedRun.objects.filter(line__code="L1").update(start=start)
    [sheet] = pages_of(logged_in("planner"), "/admin/make-list/week.pdf")
    assert "Line L1, week " in sheet
    assert sheet.index(shown.run.code) < sheet.index("PLA Coal") < sheet.rindex("PETG Natural")
    assert "Work by the machine's manual" in sheet
    # When the spools are on the shelf, and a place to tick them off.
    listed = ListedRun.objects.get(rank=1)
    assert (sheet.count("On the shelf Done"), listed.shelf_at is not None) == (1, True)
    with timezone.override("Europe/Berlin"):
        assert moment(listed.shelf_at) in sheet.replace("\N{NO-BREAK SPACE}", " ")


def test_week_parts_no_number_from_its_unit(shown: ShownPlant, logged_in: LogIn) -> None:
    ListedRun.objects.filter(line__code="L1").update(start=ListedRun.objects.get(rank=1).start)
    pdf = PdfReader(BytesIO(logged_in("planner").get("/admin/make-list/week.pdf").content))
    # A reader of PDF breaks its text where a cell breaks a line: the hour stands with its day.
    assert re.search(r"^\w{3} \d+ \w{3} \d\d:\d\d$", pdf.pages[0].extract_text(), flags=re.MULTILINE)


def test_character_of_no_font_is_named(shown: ShownPlant, logged_in: LogIn) -> None:
    Colour.objects.filter(code="NATURAL").update(name="雪")
    answer = logged_in("floor").get(f"/admin/run-cards/{shown.run.code}.pdf")
    assert (answer.status_code, "U+96EA" in answer.text) == (422, True)


@pytest.mark.parametrize("path", ["/admin/make-list/week.pdf", "/admin/run-cards/R9.pdf"])
def test_paper_of_nothing_is_not_found(shown: ShownPlant, logged_in: LogIn, path: str) -> None:
    MakeList.objects.all().delete()
    cancel_run(run_code=shown.run.code, clock=Clock.at(timezone.now()))
    assert logged_in("planner").get(path).status_code == 404
