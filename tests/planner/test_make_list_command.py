"""The command prints the stored list as table, CSV and JSON."""

from __future__ import annotations

import csv
import json
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from stockplan.planner.models import MakeList
from tests.inventory.builders import TinyPlant

AS_OF = "2027-03-01T10:00+01:00"


def _printed(*arguments: str) -> str:
    out = StringIO()
    call_command("make_list", "--as-of", AS_OF, *arguments, stdout=out)
    return out.getvalue()


def test_command_prints_rank_first_then_totals(ordered: TinyPlant) -> None:
    printed = _printed("--days", "5")
    header = next(row for row in printed.splitlines() if "rank" in row)
    assert header.split()[0] == "rank"
    assert max(map(len, printed.splitlines())) <= 140
    assert "Totals per line and day" in printed
    assert "1. PLA-BLACK-1.75: The shelf is expected to run out on Thu 4 Mar" in printed


def test_command_writes_csv_with_one_row_a_run(ordered: TinyPlant) -> None:
    rows = list(csv.DictReader(StringIO(_printed("--format", "csv"))))
    assert rows[0]["start"] == "2027-03-01T14:00+01:00"
    assert [(row["rank"], row["filament"], row["spools"]) for row in rows] == [
        ("1", "PLA-BLACK-1.75", "2 x PLA-BLACK-250 6 x PLA-BLACK-1000")
    ]


def test_command_writes_json_of_the_stored_list(ordered: TinyPlant) -> None:
    body = json.loads(_printed("--format", "json", "--week", "2027-W09"))
    assert (body["last_day"], body["runs"][0]["rank"]) == ("2027-03-05", 1)
    assert body["id"] == str(MakeList.objects.get().pk)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--as-of", "2027-03-01T10:00"], "no time zone"),
        (["--as-of", "yesterday"], "write an instant"),
        (["--days", "0"], "1 to 40 ship days, got 0"),
        (["--days", "3", "--week", "2027-W09"], "not allowed with"),
    ],
)
def test_command_refuses_what_cannot_be(plant: TinyPlant, arguments: list[str], words: str) -> None:
    with pytest.raises(CommandError, match=words):
        call_command("make_list", *arguments, stdout=StringIO())
    assert not MakeList.objects.exists()


def test_command_says_that_no_plant_is_loaded(db: None) -> None:
    with pytest.raises(CommandError, match="No plant is loaded"):
        call_command("make_list", stdout=StringIO())
