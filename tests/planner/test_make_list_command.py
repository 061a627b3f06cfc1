"""The command prints the stored list as table, CSV and JSON."""

from __future__ import annotations

import csv
import json
import re
from dataclasses import replace
from io import StringIO
from zoneinfo import ZoneInfo

import pytest
from django.core.management import CommandError, call_command

from inventory.models import SpoolSize
from stockplan.planner.management.printing import print_table
from stockplan.planner.models import ListedRun, MakeList
from stockplan.planner.selectors.make_lists import make_list_detail
from tests.inventory.builders import TinyPlant, build_sku
from tests.planner.conftest import order

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
    assert "Spools due up to Fri 5 Mar that will not ship on their due day: 0.0; next to nothing" in printed
    assert "1. PLA-BLACK-1.75: The shelf is expected to run out on Thu 4 Mar" in printed


def test_printed_blocked_run_has_no_worth_of_nought(ordered: TinyPlant) -> None:
    _printed()
    detail, out = make_list_detail(MakeList.objects.get().pk), StringIO()
    blocked = replace(detail.runs[0], is_blocked=True, line_code=None, place_on_line=None, start=None, end=None)
    print_table(replace(detail, runs=(blocked,)), zone=ZoneInfo("Europe/Vienna"), file=out)
    assert " min " in out.getvalue().split("Totals")[0]
    [row] = [line for line in out.getvalue().splitlines() if " blocked " in line]
    assert row.split()[-1] == "kg"


def test_command_folds_the_sizes_of_a_run_between_two_sizes(ordered: TinyPlant) -> None:
    part = ordered.black_1kg.spool_size.spool_part
    for n in range(8):
        size = SpoolSize.objects.create(code=f"X{n}", net_g=300 + n, tare_g=90, spool_part=part, max_temp_c=70)
        build_sku(f"EXTRA-{n}", filament=ordered.black, size=size, number=100 + n, value="5.00")
        order(f"X{n}", [(f"EXTRA-{n}", 2)], at="2027-03-01 09:30")
    table = _printed("--days", "5").split("1. PLA-BLACK")[0]
    wound = [pair for row in table.splitlines() for pair in re.findall(r"(\d+) x ([\d.]+)", row)]
    made = ListedRun.objects.get(rank=1).sizes.values_list("spools", "sku__spool_size__net_g")
    assert sorted((int(n), float(kg)) for n, kg in wound) == sorted((n, g / 1000) for n, g in made)


def test_printed_table_cuts_no_cell_however_long_its_codes_and_numbers_are(ordered: TinyPlant) -> None:
    _printed()
    detail = make_list_detail(MakeList.objects.get().pk)
    code, sizes = "PETG-RETARDANT-BRIGHT-SIGNAL-ORANGE-2.85", detail.runs[0].sizes * 5
    run = replace(detail.runs[0], filament_code=code, sizes=sizes, misses_avoided=1234.5, worth_per_hour=123.45)
    out = StringIO()
    print_table(replace(detail, runs=(run,)), zone=ZoneInfo("Europe/Vienna"), file=out)
    [row] = [line for line in out.getvalue().splitlines() if code in line and "1234.5" in line]
    assert row.split()[-1] == "123.45"


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
