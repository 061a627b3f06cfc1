"""The tablet beside a line: what it says, and what each report writes."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client
from django.utils import timezone

from inventory.models import DiameterReading, DiameterReport, Line, Run, RunOutput, RunStop
from stockplan.planner.templatetags.planner_pages import moment
from tests.inventory.builders import ZONE
from tests.pages.conftest import of_run
from tests.pages.shown_plant import ShownPlant

LogIn = Callable[[str], Client]


def test_line_page_counts_down_while_the_resin_dries(shown: ShownPlant, logged_in: LogIn) -> None:
    # Into the hopper now, for the hours of the material.
    Run.objects.update(drying_from=timezone.now())
    assert "data-countdown" in logged_in("floor").get("/admin/line/L1/").text


def test_line_page_says_that_the_resin_is_dry(floor: Client) -> None:
    text = floor.get("/admin/line/L1/").text
    assert "dried for its hours" in text
    assert "data-countdown" not in text


def test_cautions_stand_before_the_first_step_at_the_machine(floor: Client) -> None:
    page = floor.get("/admin/line/L1/").text
    assert 0 < page.index("Before you touch the machine") < page.index("Resin and its lot checked")


def test_run_starts_only_when_its_cautions_were_read(floor: Client) -> None:
    answer = floor.post("/admin/line/L1/start/", of_run({}))
    assert answer.status_code == 422
    assert "read the cautions" in answer.text
    assert Run.objects.get().state == "released"


def test_run_whose_resin_is_not_dry_cannot_start(shown: ShownPlant, logged_in: LogIn) -> None:
    Run.objects.update(drying_from=timezone.now())
    answer = logged_in("floor").post("/admin/line/L1/start/", of_run({"cautions": "read"}))
    assert answer.status_code == 422
    assert Run.objects.get().state == "released"


def test_run_cannot_be_started_on_the_page_before_its_resin_is_dry(shown: ShownPlant, logged_in: LogIn) -> None:
    Run.objects.update(drying_from=timezone.now())
    text = logged_in("floor").get("/admin/line/L1/").text
    assert "It may start when its resin is dry." in text
    # Only whoever says that the resin went in earlier gets on.
    assert text.index("The resin went in at another time") < text.index("Start this run")


def test_run_starts_when_the_resin_went_in_earlier_than_planned(shown: ShownPlant, logged_in: LogIn) -> None:
    Run.objects.update(drying_from=timezone.now())
    floor, since = logged_in("floor"), timezone.localtime(timezone.now() - timedelta(hours=20), ZONE)
    typed = {"cautions": "read", "drying from": f"{since:%Y-%m-%dT%H:%M}"}
    assert floor.post("/admin/line/L1/start/", of_run(typed)).status_code == 302
    run = Run.objects.get()
    assert (run.state, run.drying_from) == ("started", since.replace(second=0, microsecond=0))


def test_hour_that_is_none_is_told_and_nothing_starts(floor: Client) -> None:
    answer = floor.post("/admin/line/L1/start/", of_run({"cautions": "read", "drying from": "noon"}))
    assert answer.status_code == 422
    assert "drying from: a day and time such as 2027-03-01T06:30, got &#x27;noon&#x27;." in answer.text
    assert Run.objects.get().state == "released"


def test_changeover_has_its_steps_before_the_start(floor: Client) -> None:
    text = floor.get("/admin/line/L1/").text
    assert text.index("Line purged, nothing left of what it held") < text.index("Start this run")


def test_line_page_says_what_it_is_for_and_what_to_do_without_a_run(floor: Client) -> None:
    Run.objects.update(state="cancelled", cancelled_at=timezone.now(), cancelled_known_at=timezone.now())
    text = floor.get("/admin/line/L1/").text
    assert "What this line makes now and what comes next" in text
    assert "The planner releases runs on the make list" in text


def test_stops_and_readings_of_last_night_say_their_day(running: Client) -> None:
    running.post("/admin/line/L1/stop/", of_run({"reason": "screen", "note": ""}))
    running.post("/admin/line/L1/diameters/", of_run({"diameters": "1.75"}))
    night = timezone.now() - timedelta(days=1)
    RunStop.objects.update(stopped_at=night)
    DiameterReport.objects.update(occurred_at=night)
    with timezone.override(ZONE):
        text = running.get("/admin/line/L1/").text
        assert f"since {moment(night)}" in text
        assert f"<li>{moment(night)} – …: screen change" in text
        assert f"<li>{moment(night)}: 1 reading" in text


def test_started_run_stands_under_now(running: Client) -> None:
    assert (Run.objects.get().state, Run.objects.get().started_by.username) == ("started", "floor-person")  # type: ignore[union-attr]
    text = running.get("/admin/line/L1/").text
    assert text.index('id="now"') < text.index("PETG Natural 1.75 mm") < text.index('id="next"')
    assert "Start this run" not in text


@pytest.mark.parametrize(
    ("typed", "outside", "said"),
    [
        ("1.75", 0, "1 reading is posted, all inside."),
        ("1.75 1.74", 0, "2 readings are posted, all inside."),
        ("1,75 1.80", 1, "1 of them outside"),
    ],
)
def test_diameters_are_posted_as_typed(running: Client, typed: str, outside: int, said: str) -> None:
    # The tiny plant holds 1.75 mm to 0.03 mm.
    text = running.post("/admin/line/L1/diameters/", of_run({"diameters": typed}), follow=True).text
    assert said in text
    assert DiameterReport.objects.get().outside_readings == outside
    assert DiameterReading.objects.order_by("number").first().x_mm == Decimal("1.75")  # type: ignore[union-attr]


def test_diameter_that_is_no_number_is_told_and_kept_in_its_field(running: Client) -> None:
    answer = running.post("/admin/line/L1/diameters/", of_run({"diameters": "1.75 wide"}))
    assert answer.status_code == 422
    assert "diameters: a number such as 1.75, got &#x27;wide&#x27;." in answer.text
    assert 'value="1.75 wide"' in answer.text
    assert not DiameterReport.objects.exists()


def test_finish_writes_what_came_of_the_run(running: Client) -> None:
    typed = {"good PETG-NAT-1000": "5", "scrap PETG-NAT-1000": "1", "real minutes": "95", "purge kg": "1,6"}
    assert "wait for the oven" in running.post("/admin/line/L1/finish/", of_run(typed), follow=True).text
    run, output = Run.objects.get(), RunOutput.objects.get()
    assert (run.state, run.real_minutes, run.purge_kg) == ("finished", Decimal("95.0"), Decimal("1.600"))
    assert (output.good, output.scrap) == (5, 1)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"purge kg": ""}, "purge kg: it is needed, 0 if there was none."),
        ({"real minutes": "long"}, "real minutes: a number such as 1.75"),
        ({"good PETG-NAT-1000": "-1"}, "good PETG-NAT-1000: a whole number of spools"),
    ],
    ids=["purge left out", "minutes in words", "negative spools"],
)
def test_wrong_finish_is_told_and_nothing_is_written(running: Client, changes: dict[str, str], said: str) -> None:
    typed = {"good PETG-NAT-1000": "5", "real minutes": "95", "purge kg": "1.6"} | changes
    answer = running.post("/admin/line/L1/finish/", of_run(typed))
    assert answer.status_code == 422
    assert said in answer.text
    assert Run.objects.get().state == "started"


def test_report_of_a_run_that_is_no_longer_there_is_told(floor: Client) -> None:
    answer = floor.post("/admin/line/L1/finish/", of_run({"real minutes": "1", "purge kg": "0"}))
    assert answer.status_code == 422
    assert "the line went on since this page was opened" in answer.text


@pytest.mark.parametrize("what", ["finish", "stop", "go-on", "diameters", "start"])
def test_report_of_another_run_than_the_one_there_writes_nothing_and_offers_nothing(running: Client, what: str) -> None:
    typed = {"reason": "screen", "diameters": "1.75", "cautions": "read", "real minutes": "95", "purge kg": "1.6"}
    answer = running.post(f"/admin/line/L1/{what}/", {"run": "R-BEFORE", **typed})
    assert (answer.status_code, "the line went on since this page was opened" in answer.text) == (422, True)
    assert 'value="95"' not in answer.text
    assert Run.objects.get().state == "started"
    assert [model.objects.count() for model in (RunStop, DiameterReport)] == [0, 0]


def test_who_does_not_work_on_the_floor_reports_nothing(dry: ShownPlant, logged_in: LogIn) -> None:
    planner = logged_in("planner")
    assert "Start this run" not in planner.get("/admin/line/L1/").text
    assert planner.post("/admin/line/L1/start/", of_run({"cautions": "read"})).status_code == 403


def test_unknown_line_is_not_found(floor: Client) -> None:
    assert floor.get("/admin/line/L9/").status_code == 404


def test_stop_is_one_press_and_shows_until_the_line_goes_on(running: Client) -> None:
    text = running.post("/admin/line/L1/stop/", of_run({"reason": "screen", "note": ""}), follow=True).text
    assert "Screen change" not in text
    assert ">stands</span> screen change" in text
    text = running.post("/admin/line/L1/go-on/", of_run({}), follow=True).text
    assert ">stands</span>" not in text
    assert "1 stop of this run" in text


def test_other_reason_without_a_note_writes_nothing_and_says_so(running: Client) -> None:
    answer = running.post("/admin/line/L1/stop/", of_run({"reason": "other", "note": ""}))
    assert (answer.status_code, "needs a note" in answer.text) == (422, True)
    assert not RunStop.objects.exists()


def test_who_may_not_report_writes_no_stop(running: Client, logged_in: LogIn) -> None:
    assert logged_in("planner").post("/admin/line/L1/stop/", of_run({"reason": "screen"})).status_code == 403


def test_plant_without_a_line_in_use_says_so(floor: Client) -> None:
    Line.objects.update(is_active=False)
    assert "No line is in use." in floor.get("/admin/line/").text


FINISHED = {"real minutes": "80", "purge kg": "1.6", "good PETG-NAT-1000": "6"}


@pytest.mark.parametrize(
    ("step", "posted", "field"),
    [
        ("start", {}, "cautions"),
        ("finish", FINISHED | {"real minutes": ""}, "real minutes"),
        ("finish", FINISHED | {"real minutes": "99999999"}, "real minutes"),
        ("finish", FINISHED | {"purge kg": "much"}, "purge kg"),
        ("finish", FINISHED | {"good PETG-NAT-1000": "-1"}, "good PETG-NAT-1000"),
        ("finish", FINISHED | {"resin kg": "1,2,3"}, "resin kg"),
        ("diameters", {"diameters": "1.75 wide"}, "diameters"),
        ("diameters", {"diameters": "1.75 99"}, "diameters"),
        ("stop", {"reason": "other"}, "note"),
    ],
    ids=lambda part: str(part)[:30],
)
def test_field_at_fault_has_the_focus_and_says_why(
    floor: Client, step: str, posted: dict[str, str], field: str
) -> None:
    if step != "start":
        floor.post("/admin/line/L1/start/", of_run({"cautions": "read"}))
    answer = floor.post(f"/admin/line/L1/{step}/", of_run(posted))
    assert answer.status_code == 422
    [tag] = re.findall(rf'<input[^>]*name="{field}"[^>]*>', answer.text)
    assert ' aria-invalid="true"' in tag
    assert re.search(r'aria-describedby="([^"]* )?fault"', tag)
    assert tag.endswith(" autofocus>")
    assert (answer.text.count(" autofocus"), answer.text.count('id="fault"')) == (1, 1)
