"""What the planner computed, as records of the admin: everybody who may see them reads, nobody edits."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from forecasting.messages import message
from stockplan.planner.models import ListedRun, NotListed
from tests.pages.shown_plant import ShownPlant, add_filament

LogIn = Callable[[str], Client]
RECORDS = [
    "forecastrun",
    "skuforecast",
    "stocktarget",
    "makelist",
    "listedrun",
    "notlisted",
    "plannerinstruction",
]


@pytest.mark.parametrize("record", RECORDS)
def test_planner_reads_records_but_adds_none(shown: ShownPlant, logged_in: LogIn, record: str) -> None:
    owner = logged_in("owner")
    assert owner.get(f"/admin/planner/{record}/").status_code == 200
    assert owner.get(f"/admin/planner/{record}/add/").status_code == 403


def test_listed_run_is_shown_with_its_sizes_and_cannot_be_saved(shown: ShownPlant, logged_in: LogIn) -> None:
    path = f"/admin/planner/listedrun/{ListedRun.objects.get(rank=1).pk}/change/"
    owner = logged_in("owner")
    shown_as = owner.get(path).text
    assert "PETG-NAT-1000" in shown_as
    # In words, not as they are kept.
    assert ("Reason of rank 1." in shown_as, "template" in shown_as) == (True, False)
    assert owner.post(path, {"reason": "changed by hand"}).status_code == 403
    assert str(ListedRun.objects.get(rank=1).reason) == "Reason of rank 1."


@pytest.mark.parametrize(
    ("record", "words"),
    [("notlisted", "Free stock lasts for five more weeks."), ("stocktarget", "Covers nine ship days.")],
)
def test_records_show_messages_in_words(shown: ShownPlant, logged_in: LogIn, record: str, words: str) -> None:
    assert words in logged_in("owner").get(f"/admin/planner/{record}/").text


def test_records_ask_as_often_for_many_rows_as_for_few(shown: ShownPlant, logged_in: LogIn) -> None:
    owner = logged_in("owner")
    few = queries_of(owner)
    for number in range(20):
        filament = add_filament(shown.tiny, f"MORE{number}", name=f"More {number}", colour_hex="#123456")
        NotListed.objects.create(make_list=shown.make_list, filament=filament, cause="enough", sentence=message("-"))
    assert queries_of(owner) == few


def queries_of(client: Client) -> int:
    with CaptureQueriesContext(connection) as asked:
        assert client.get("/admin/planner/notlisted/").status_code == 200
    return len(asked)
