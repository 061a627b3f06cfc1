"""The command from file to file. No test here may reach a database: pytest-django refuses it without its mark."""

from __future__ import annotations

from io import StringIO
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from forecasting import forecast


@pytest.fixture
def table(tmp_path: Path) -> Path:
    """Sixty ship days of three invented SKUs in the wide form."""
    units = np.random.default_rng(2).poisson([0.3, 1.0, 5.0], size=(60, 3)).astype(float)
    frame = pd.DataFrame(units, index=pd.bdate_range("2027-01-04", periods=60, name="period"), columns=list("ABC"))
    frame.to_csv(tmp_path / "table.csv")
    return tmp_path / "table.csv"


@pytest.mark.parametrize("suffix", ["csv", "parquet"])
def test_command_writes_what_the_library_answers(suffix: str, table: Path) -> None:
    target, said = table.with_name(f"out.{suffix}"), StringIO()
    call_command("forecast_table", str(table), str(target), "--horizons", "1,5", "--quantiles", ".5,.99", stdout=said)
    history = pd.read_csv(table, index_col="period", parse_dates=True)
    calendar = pd.bdate_range("2027-03-29", periods=5)
    expected = forecast(history, horizons=[1, 5], quantiles=[0.5, 0.99], calendar=calendar).to_frame()
    written = pd.read_csv(target) if suffix == "csv" else pd.read_parquet(target)
    pd.testing.assert_frame_equal(written, expected, check_dtype=False)
    assert "6 rows" in said.getvalue()
    assert "3 SKUs, 60 periods" in said.getvalue()


def test_command_names_row_and_column_and_writes_nothing_when_a_cell_is_bad(table: Path) -> None:
    lines = table.read_text().splitlines()
    lines[7] = lines[7].rsplit(",", 1)[0] + ",-1"
    table.write_text("\n".join(lines) + "\n")
    with pytest.raises(CommandError, match=r"table\.csv: row 8, column 'C'.*-1"):
        call_command("forecast_table", str(table), str(table.with_name("out.csv")), "--horizons", "1")
    assert [p.name for p in table.parent.iterdir()] == ["table.csv"]


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--horizons", "1,x"], "write numbers as"),
        (["--horizons", "0"], "whole numbers >= 1"),
        (["--horizons=-1"], "whole numbers >= 1"),
        (["--horizons", "99999999"], "next 99999999 days"),
        (["--horizons", "1", "--quantiles", "1.5"], r"probabilities in \(0, 1\)"),
    ],
)
def test_command_refuses_its_options_when_they_are_out_of_range(arguments: list[str], says: str, table: Path) -> None:
    with pytest.raises(CommandError, match=says):
        call_command("forecast_table", str(table), str(table.with_name("out.csv")), *arguments)
    assert not table.with_name("out.csv").exists()


def test_command_refuses_a_target_of_another_kind_before_it_forecasts(table: Path) -> None:
    with pytest.raises(CommandError, match=r"ends in \.csv or \.parquet; got 'out\.xlsx'"):
        call_command("forecast_table", str(table), str(table.with_name("out.xlsx")), "--horizons", "1")


def test_command_says_so_when_there_is_no_table(table: Path) -> None:
    with pytest.raises(CommandError, match=r"none\.csv"):
        call_command("forecast_table", str(table.with_name("none.csv")), str(table), "--horizons", "1")
