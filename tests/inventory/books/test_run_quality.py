"""Quality of a run as it is read, and the files of gauges. Limits 1.72 to 1.78 mm; spools of 1000 g on 200 g."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import pytest
import time_machine
from django.core.management import CommandError, call_command

from inventory.models import DiameterReading, DiameterReport
from inventory.selectors.quality import run_quality
from inventory.selectors.run_rows import RunNotFoundError
from inventory.services.quality import post_weighings
from tests.inventory.books.floor import KG, QUARTER, finished
from tests.inventory.books.measuring import AFTER, measure
from tests.inventory.builders import TinyPlant, late, local

pytestmark = pytest.mark.django_db


def test_quality_of_a_run_adds_up_all_reports_in_the_order_of_measuring(stores: TinyPlant) -> None:
    run = finished().run
    # Posted in the wrong order: the sheet of noon comes in after that of 15:00.
    measure(run, "1.76", "1.77", at=AFTER)
    measure(run, "1.74", "1.75", at=late("2027-03-01 12:00", "2027-03-01 16:00"))
    post_weighings(lot_code=f"{run.code}-{KG}", gross_g=[Decimal("1203")], clock=AFTER)
    quality = run_quality(run.code, subgroup_size=2)
    assert quality.diameter is not None
    assert quality.diameter.chart is not None
    assert [round(point.mean_mm, 4) for point in quality.diameter.chart.points] == [1.745, 1.765]
    assert (quality.lower_mm, quality.upper_mm) == (Decimal("1.720"), Decimal("1.780"))
    assert [(lot.sku_code, lot.net_mass is not None) for lot in quality.lots] == [(KG, True), (QUARTER, False)]


def test_quality_as_of_an_instant_knows_what_was_known_then(stores: TinyPlant) -> None:
    run = finished().run
    measure(run, "1.74", at=AFTER)
    measure(run, "1.76", at=late("2027-03-01 12:00", "2027-03-01 16:00"))
    before, after = (run_quality(run.code, as_of=local(f"2027-03-01 {hour}")) for hour in ("15:30", "16:00"))
    assert before.diameter is not None
    assert after.diameter is not None
    assert (before.diameter.readings, after.diameter.readings) == (1, 2)
    running = run_quality(run.code, as_of=local("2027-03-01 13:00"))
    assert (running.diameter, running.lots) == (None, ())


def test_quality_of_a_run_that_nobody_knows_is_refused(plant: TinyPlant) -> None:
    with pytest.raises(RunNotFoundError):
        run_quality("R9")


def test_quality_costs_the_same_queries_for_one_reading_and_twenty(
    stores: TinyPlant, queries_of: Callable[..., int]
) -> None:
    run = finished().run
    measure(run, "1.75")
    one = queries_of(run_quality, run.code)
    measure(run, *["1.75"] * 20)
    assert queries_of(run_quality, run.code) == one


@time_machine.travel(local("2027-03-01 16:00"), tick=False)
def test_file_of_a_gauge_is_read(stores: TinyPlant, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run = finished().run
    file = tmp_path / "gauge.csv"
    file.write_text("x_mm,y_mm\n1.751,1.749\n1.79,\n", encoding="utf-8")
    call_command("import_diameters", run.code, str(file), "--occurred-at", "2027-03-01T15:00:00+01:00")
    rows = list(DiameterReading.objects.values_list("number", "x_mm", "y_mm"))
    assert rows == [(1, Decimal("1.751"), Decimal("1.749")), (2, Decimal("1.79"), None)]
    assert DiameterReport.objects.get().document == "gauge.csv"
    assert f"on hold: {run.code}-{KG}, {run.code}-{QUARTER}." in capsys.readouterr().out


@time_machine.travel(local("2027-03-01 16:00"), tick=False)
@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("x_mm\n1,75\n", "line 2: has 2 cells"),
        ("x_mm\nwide\n", "line 2, column x_mm: 'wide' is not a number"),
        ("y_mm\n1.75\n", "line 1, column x_mm: the column is missing"),
        ("x_mm\n", "0 readings"),
    ],
)
def test_bad_file_of_a_gauge_is_refused_with_line_and_column(
    stores: TinyPlant, tmp_path: Path, text: str, message: str
) -> None:
    run = finished().run
    file = tmp_path / "gauge.csv"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(CommandError, match=message):
        call_command("import_diameters", run.code, str(file))
    assert DiameterReport.objects.count() == 0


def test_fault_in_the_file_of_a_gauge_names_that_file(stores: TinyPlant, tmp_path: Path) -> None:
    # diameters.csv is another file, one of the plant.
    file = tmp_path / "gauge.csv"
    file.write_text("x_mm\nwide\n", encoding="utf-8")
    with pytest.raises(CommandError, match=r"gauge\.csv, line 2"):
        call_command("import_diameters", finished().run.code, str(file))


@time_machine.travel(local("2027-03-01 16:00"), tick=False)
def test_file_of_a_gauge_from_the_future_is_refused(stores: TinyPlant, tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="is in the future"):
        call_command("import_diameters", "R1", str(tmp_path), "--occurred-at", "2027-03-01T16:01:00+01:00")
