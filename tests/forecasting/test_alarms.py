"""Alarms on demand that was made to leave its forecast. The bands are the project's own: common practice, no source."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from forecasting.alarms import LESS, MORE, NARROW, alarms_of
from forecasting.backtest import CLASSES, Backtest, Scores
from forecasting.distribution import NegativeBinomial

WINDOWS, SKUS, RISK = 12, 200, 10
SMOOTH = CLASSES.index("smooth")
PERIODS = pd.date_range("2026-01-01", periods=400)


def _alarms(actual: np.ndarray, *, step: int = RISK) -> pd.DataFrame:
    """Alarms where Poisson demand of mean 20 was forecast in every window."""
    dist = NegativeBinomial(np.full(actual.shape, 20.0), np.full(actual.shape, 20.0))
    known = np.nan_to_num(actual)
    parts = (np.where(np.isnan(actual), np.nan, part) for part in (known, dist.cdf(known - 1), dist.cdf(known)))
    honest = Scores(*parts)
    backtest = Backtest(
        origins=tuple(range(100, 100 + step * len(actual), step)),
        horizons=np.array([1, RISK]),
        mass=np.zeros(0),
        expected=np.zeros(0),
        demand_class=np.full(actual.shape, SMOOTH),
        actual=actual,
        said=(),
        plain=honest,
    )
    skus = pd.Index([f"S{i:03d}" for i in range(actual.shape[1])])
    return alarms_of(backtest, honest, skus=skus, periods=PERIODS)


def _demand(mean: float = 20.0) -> np.ndarray:
    return np.random.default_rng(17).poisson(mean, size=(WINDOWS, SKUS)).astype(float)


def test_steady_demand_raises_hardly_any_alarm() -> None:
    alarms = _alarms(_demand())
    # By chance about one SKU in a thousand for each of 12 runs of windows and of two directions: 5 of 200 at most.
    assert len(alarms) <= 5
    assert "class" not in set(alarms["scope"])


def _one_departs(units: float) -> np.ndarray:
    """SKU 7 sells its mean, then five windows of so many units."""
    actual = _demand()
    actual[:, 7], actual[-5:, 7] = 20.0, units
    return actual


@pytest.mark.parametrize(("units", "kind"), [(27.0, MORE), (10.0, LESS)])
def test_sku_is_named_with_since_when(units: float, kind: str) -> None:
    # 27 is the 94 % quantile: by hand 5 x 0.435 / sqrt(5 / 12) = 3.37 standard errors.
    found = _alarms(_one_departs(units)).query("scope == 'sku' and name == 'S007' and kind == @kind")
    assert found["windows"].tolist() == [5]
    # The fifth window from the end starts at origin 170, the 171st day of the year.
    assert found["since"].tolist() == [PERIODS[170]]


def test_spread_is_called_too_narrow_when_demand_swings_more_than_forecast() -> None:
    actual = _demand()
    actual[-8:, 3] = [40, 4, 41, 3, 39, 5, 42, 4]
    found = _alarms(actual).query("name == 'S003'")
    assert found["kind"].tolist() == [NARROW]


def test_class_is_named_when_all_of_it_drifts() -> None:
    actual = _demand()
    actual[-4:] = _demand(23.0)[-4:]
    found = _alarms(actual).query("scope == 'class'")
    assert found["name"].unique().tolist() == ["smooth"]
    assert MORE in set(found["kind"])
    assert found.query("kind == @MORE")["since"].tolist() == [PERIODS[180]]


def test_overlapping_windows_count_once() -> None:
    # Windows of ten periods five periods apart: three of the last five do not overlap, too few for an alarm.
    assert _alarms(_one_departs(27.0), step=5).query("name == 'S007'").empty


def test_windows_without_an_outcome_say_nothing() -> None:
    actual = _one_departs(27.0)
    actual[-3:, 7] = np.nan
    assert _alarms(actual).query("name == 'S007'").empty


def test_nothing_is_alarming_when_nothing_was_scored() -> None:
    assert alarms_of(None, None, skus=pd.Index(["A"]), periods=PERIODS).empty
    assert _alarms(np.full((WINDOWS, SKUS), np.nan)).empty
