"""States in a file. That they give the bits of a fit to the whole record is our own rule."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from forecasting.errors import DemandTableError
from forecasting.state_files import KeptStates, kept_states, read_states, write_states


@pytest.fixture
def history(sporadic: np.ndarray) -> pd.DataFrame:
    """A hundred ship days of 60 SKUs, a tenth of the cells unknown."""
    units = np.where(np.random.default_rng(5).random((60, 100)) < 0.1, np.nan, sporadic[:, :100])
    return pd.DataFrame(units.T, index=pd.bdate_range("2026-01-05", periods=100), columns=[f"S{i}" for i in range(60)])


def _again(kept: KeptStates, path: Path) -> KeptStates:
    write_states(kept, path)
    return read_states(path)


def test_levels_that_went_through_a_file_every_night_are_bit_equal_to_a_fit(
    history: pd.DataFrame, tmp_path: Path
) -> None:
    kept = _again(kept_states(history.iloc[:80]), tmp_path / "states.npz")
    for night in range(80, 100):
        # The columns of a night may come in any order.
        kept = _again(kept.after(history.iloc[night : night + 1, ::-1]), tmp_path / "states.npz")
    whole = kept_states(history)
    pd.testing.assert_frame_equal(kept.chosen(), whole.chosen(), check_exact=True)
    assert kept.chosen().shape == (60, 4)
    for method in ("ses", "sba", "tsb"):
        for part in ("since", "rate", "error"):
            got, wanted = (getattr(getattr(k.states.levels, method), part) for k in (kept, whole))
            np.testing.assert_array_equal(got, wanted)
    assert kept.recent.equals(whole.recent)
    assert [path.name for path in tmp_path.iterdir()] == ["states.npz"]


def test_numbered_periods_are_kept_too(history: pd.DataFrame, tmp_path: Path) -> None:
    numbered = history.reset_index(drop=True)
    kept = _again(kept_states(numbered.iloc[:99]), tmp_path / "states.npz").after(numbered.iloc[99:])
    pd.testing.assert_frame_equal(kept.chosen(), kept_states(numbered).chosen(), check_exact=True)


@pytest.mark.parametrize(
    ("rows", "columns", "says"),
    [
        (slice(79, 81), slice(None), "must come after 2026-04-24 .*got 2026-04-24"),
        (slice(81, 82), slice(None), "2026-04-27 .*missing before 2026-04-28"),
        (slice(80, 81), slice(1, None), r"the table lacks SKU 'S0' \(1 in all\)"),
    ],
)
def test_periods_are_refused_when_they_do_not_go_on_where_the_states_ended(
    rows: slice, columns: slice, says: str, history: pd.DataFrame
) -> None:
    kept = kept_states(history.iloc[:80])
    with pytest.raises(DemandTableError, match=says):
        kept.after(history.iloc[rows, columns])


def test_sku_without_states_is_refused(history: pd.DataFrame) -> None:
    kept = kept_states(history.iloc[:80, 1:])
    with pytest.raises(DemandTableError, match="the file has no states of SKU 'S0'"):
        kept.after(history.iloc[80:])


def test_file_of_other_code_is_refused(history: pd.DataFrame, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_states(kept_states(history), tmp_path / "states.npz")
    monkeypatch.setattr("forecasting.state_files.SOURCES", ("levels.py",))
    with pytest.raises(DemandTableError, match=r"states\.npz was written by other code"):
        read_states(tmp_path / "states.npz")


def test_file_that_holds_no_states_is_refused(tmp_path: Path) -> None:
    (tmp_path / "states.npz").write_text("sku,level\n")
    with pytest.raises(DemandTableError, match=r"states\.npz holds no kept states"):
        read_states(tmp_path / "states.npz")
