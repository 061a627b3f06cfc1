"""The command from night to night. No test here may reach a database: pytest-django refuses it without its mark."""

from __future__ import annotations

from io import StringIO
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from django.core.management import call_command
from django.core.management.base import CommandError


@pytest.fixture
def history() -> pd.DataFrame:
    """Sixty ship days of three invented SKUs."""
    units = np.random.default_rng(2).poisson([0.3, 1.0, 5.0], size=(60, 3)).astype(float)
    return pd.DataFrame(units, index=pd.bdate_range("2027-01-04", periods=60, name="period"), columns=list("ABC"))


def _run(rows: pd.DataFrame, folder: Path, *, states: str = "states.npz") -> tuple[pd.DataFrame, str]:
    rows.to_csv(folder / "in.csv")
    said = StringIO()
    names = [str(folder / name) for name in ("in.csv", "out.parquet", states)]
    call_command("level_table", *names[:2], "--states", names[2], stdout=said)
    return pd.read_parquet(folder / "out.parquet"), said.getvalue()


def test_command_answers_after_a_night_as_it_does_after_the_whole_history(
    history: pd.DataFrame, tmp_path: Path
) -> None:
    _run(history.iloc[:58], tmp_path)
    nightly, said = _run(history.iloc[58:], tmp_path)
    whole, _ = _run(history, tmp_path, states="anew.npz")
    pd.testing.assert_frame_equal(nightly, whole, check_exact=True)
    assert list(nightly.columns) == ["sku", "ses", "sba", "tsb"]
    assert "3 SKUs after 2027-03-26" in said


def test_command_keeps_states_and_levels_when_a_night_comes_twice(history: pd.DataFrame, tmp_path: Path) -> None:
    _run(history.iloc[:58], tmp_path)
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir() if path.name != "in.csv"}
    with pytest.raises(CommandError, match=r"in\.csv: the first period must come after 2027-03-24"):
        _run(history.iloc[57:], tmp_path)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir() if path.name != "in.csv"} == before
