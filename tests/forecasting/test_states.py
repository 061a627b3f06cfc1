"""Kept levels against a fit to the whole record. That parts give the bits of the whole is our own rule."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from forecasting.errors import DemandTableError
from forecasting.states import DemandStates, fit_states


@pytest.fixture
def history(sporadic: np.ndarray) -> pd.DataFrame:
    """A hundred days of 60 SKUs, a tenth of the cells unknown."""
    units = np.where(np.random.default_rng(5).random((60, 100)) < 0.1, np.nan, sporadic[:, :100])
    return pd.DataFrame(units.T, index=pd.bdate_range("2026-01-05", periods=100), columns=[f"S{i}" for i in range(60)])


def _arrays(states: DemandStates) -> list[np.ndarray]:
    levels = states.levels
    methods = (levels.ses, levels.sba, levels.tsb)
    return [a for m in methods for a in (m.since, m.rate, m.error, m.now(), m.chosen())]


def test_nightly_updates_are_bit_equal_to_a_fit_of_the_whole_record(history: pd.DataFrame) -> None:
    states = fit_states(history.iloc[:70])
    for _, row in history.iloc[70:].iterrows():
        states.update(row)
    whole = fit_states(history)
    assert states.period == history.index[-1]
    for kept, fitted in zip(_arrays(states), _arrays(whole), strict=True):
        np.testing.assert_array_equal(kept, fitted)


def test_levels_move_with_a_night(history: pd.DataFrame) -> None:
    states = fit_states(history.iloc[:70])
    before = states.levels.ses.now()
    states.update(pd.Series(9.0, index=history.columns, name=history.index[70]))
    # l + a (9 - l), the recursion of simple smoothing; an unsold SKU starts at 9 a.
    constants = np.array(states.levels.ses.constants)
    np.testing.assert_allclose(states.levels.ses.now(), before + constants * (9.0 - before), rtol=1e-12)


def test_night_is_refused_and_not_taken_in_when_a_value_is_bad(history: pd.DataFrame) -> None:
    states, before = fit_states(history.iloc[:70]), _arrays(fit_states(history.iloc[:70]))
    night = history.iloc[70].copy()
    night["S3"] = -1.0
    with pytest.raises(DemandTableError, match=r"2026-04-13.*'S3'"):
        states.update(night)
    for kept, fitted in zip(_arrays(states), before, strict=True):
        np.testing.assert_array_equal(kept, fitted)


def test_night_is_refused_when_it_is_not_later(history: pd.DataFrame) -> None:
    states = fit_states(history)
    with pytest.raises(DemandTableError, match=r"2026-05-22.*comes after.*2026-05-22"):
        states.update(history.iloc[-1])


def test_night_is_refused_when_its_skus_differ(history: pd.DataFrame) -> None:
    states = fit_states(history.iloc[:70])
    with pytest.raises(DemandTableError, match="SKUs of the history"):
        states.update(history.iloc[70].iloc[::-1])


def test_levels_after_further_periods_leave_the_earlier_ones_as_they_are(history: pd.DataFrame) -> None:
    states, whole = fit_states(history.iloc[:70]), fit_states(history)
    before = [a.copy() for a in _arrays(states)]
    after = DemandStates(states.skus, whole.period, states.levels.after(history.iloc[70:].to_numpy().T))
    for kept, fitted in zip(_arrays(after), _arrays(whole), strict=True):
        np.testing.assert_array_equal(kept, fitted)
    for kept, earlier in zip(_arrays(states), before, strict=True):
        np.testing.assert_array_equal(kept, earlier)
