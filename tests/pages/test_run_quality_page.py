"""The quality page of a run and the file of a gauge that is posted there. The tiny plant: 1.75 mm within 0.03 mm.

The statistics themselves are checked in tests/inventory/books; here, what the page says and what a bad file does.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from inventory.models import DiameterReading, DiameterReport, Lot, Run
from stockplan.planner.pages.run_quality import LARGEST_FILE_BYTES
from tests.inventory.books.floor import finished, released
from tests.inventory.builders import build_tiny_plant, local

LogIn = Callable[[str], Client]
TWO_AXES = "x_mm,y_mm\n1.751,1.747\n1.744,1.748\n1.753,1.752\n"


@pytest.fixture
def run(db: None) -> Iterator[Run]:
    build_tiny_plant()
    run = finished().run
    with time_machine.travel(local("2027-03-01 15:00"), tick=False):
        yield run


def _post(client: Client, run: Run, content: str | bytes, *, name: str = "gauge-7.csv") -> tuple[int, str]:
    body = content.encode() if isinstance(content, str) else content
    file = SimpleUploadedFile(name, body)
    answer = client.post(f"/admin/run-cards/{run.code}/gauge/", {"file": file}, follow=True)
    return answer.status_code, answer.text


def test_file_of_two_axes_gives_spread_and_ovality(run: Run, logged_in: LogIn) -> None:
    status, text = _post(logged_in("floor"), run, TWO_AXES)
    assert (status, "3 readings are posted." in text) == (200, True)
    # |x - y|: 0.004, 0.004, 0.001 by hand; their mean 0.003.
    assert "0.0030 <small>mean; at most 0.0040" in text
    report = DiameterReport.objects.get()
    assert (report.source, report.document, report.posted_by.username) == ("gauge", "gauge-7.csv", "floor-person")


def test_file_that_was_posted_before_is_told_and_counts_once(run: Run, logged_in: LogIn) -> None:
    client = logged_in("floor")
    head, *rows = TWO_AXES.splitlines()
    file = "\n".join([head, *rows * 4])
    _post(client, run, file)
    status, text = _post(client, run, file.replace("1.751", "1.7510"), name="gauge-7 (1).csv")
    assert (status, DiameterReading.objects.count()) == (422, 12)
    assert f"Nothing was written: These readings of run {run.code} are in the books already" in text
    assert "gauge-7.csv" in text


def test_file_of_one_axis_has_no_ovality(run: Run, logged_in: LogIn) -> None:
    assert "one axis was read" in _post(logged_in("floor"), run, "x_mm\n1.751\n1.744\n")[1]


def test_reading_outside_holds_the_lots_and_says_so(run: Run, logged_in: LogIn) -> None:
    text = _post(logged_in("floor"), run, "x_mm,y_mm\n1.75,1.75\n1.75,1.781\n")[1]
    assert "on hold now: " in text
    assert set(Lot.objects.filter(run=run).values_list("is_held", flat=True)) == {True}


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("x_mm,y_mm\n1.75,1.74\nwide,1.75\n", "gauge-7.csv, line 3, column x_mm: "),
        ("x_mm,y_mm\n1.75,1.74\n1.75,1.75,1.76\n", "gauge-7.csv, line 3: has 3 cells, but the header names 2"),
        ("x\n1.75\n", "gauge-7.csv, line 1, column x: there is no such column"),
        ("", "the file is empty"),
        ("x_mm\n", "0 readings: 1 to 20000 are allowed"),
        ("x_mm\n\n1.75\n17.5\n", "gauge-7.csv, line 4, column x_mm: 17.5 must be above 0 and below 10 mm"),
        (b"x_mm\n1.75\n\xff\n", "line 3: is not UTF-8"),
        (b"PK\x03\x04 a workbook \x00\xff", "is not UTF-8"),
        ("x_mm\n=1+1\n", "line 2, column x_mm: "),
    ],
    ids=["word", "cells", "column", "empty", "no rows", "zero", "bytes", "workbook", "formula"],
)
def test_bad_file_is_refused_with_its_place_and_nothing_is_written(
    run: Run, logged_in: LogIn, content: str | bytes, said: str
) -> None:
    status, text = _post(logged_in("floor"), run, content)
    assert (status, said in text) == (422, True)
    assert DiameterReport.objects.count() == DiameterReading.objects.count() == 0


def test_file_that_is_too_long_is_refused_unread(run: Run, logged_in: LogIn) -> None:
    status, text = _post(logged_in("floor"), run, b"x_mm\n" + b"1.750\n" * (LARGEST_FILE_BYTES // 6))
    assert (status, "the file of a gauge has at most 1000000" in text) == (422, True)


def test_post_without_a_file_is_told(run: Run, logged_in: LogIn) -> None:
    answer = logged_in("floor").post(f"/admin/run-cards/{run.code}/gauge/", {"file": "no file"})
    assert (answer.status_code, "choose the CSV file" in answer.text) == (422, True)


def test_name_of_the_file_leads_nowhere(run: Run, logged_in: LogIn) -> None:
    _post(logged_in("floor"), run, TWO_AXES, name="../../etc/<b>passwd.csv")
    assert DiameterReport.objects.get().document == "<b>passwd.csv"


def test_run_that_has_not_started_takes_no_readings(run: Run, logged_in: LogIn) -> None:
    status, text = _post(logged_in("floor"), released(start="2027-03-02 08:00", end="2027-03-02 14:00"), TWO_AXES)
    assert (status, "Nothing was written: " in text) == (422, True)


def test_who_may_look_may_not_post(run: Run, logged_in: LogIn) -> None:
    planner = logged_in("planner")
    assert "Post the file" not in planner.get(f"/admin/run-cards/{run.code}/quality/").text
    assert _post(planner, run, TWO_AXES)[0] == 403


def test_quality_of_an_unknown_run_is_not_found(run: Run, logged_in: LogIn) -> None:
    client = logged_in("floor")
    assert client.get("/admin/run-cards/NONE/quality/").status_code == 404
    assert client.post("/admin/run-cards/NONE/gauge/", {}).status_code == 404


def test_means_and_ranges_of_subgroups_are_drawn_between_their_limits(run: Run, logged_in: LogIn) -> None:
    # Subgroups of five, the third one higher: its mean is beyond 1.7507 + A2 x R-bar, A2 = 0.577 for five
    # (fixtures/reference/quality.json); by hand 1.7527 + 0.577 x 0.004 = 1.7550.
    low, high = "1.749\n1.751\n1.750\n1.752\n1.748\n", "1.757\n1.759\n1.758\n1.760\n1.756\n"
    client = logged_in("floor")
    _post(client, run, "x_mm\n" + 2 * low + high)
    means, ranges = client.get(f"/admin/run-cards/{run.code}/quality/").context["pictures"]
    assert means.words == "Means of 3 subgroups in their order: 3 beyond the limits."
    assert ranges.words == "Ranges of 3 subgroups in their order: 0 beyond the limits."
    drawn = {line["name"]: line["points"] for line in means.drawn["lines"]}
    assert [number for number, _ in drawn["mean, mm"]] == [1, 2, 3]
    assert drawn["upper limit"] == [[number, pytest.approx(1.75267 + 0.577 * 0.004, abs=1e-4)] for number in (1, 3)]
