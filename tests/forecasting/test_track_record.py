"""The track record of single SKUs, by hand."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from forecasting.backtest import Backtest, Scores
from forecasting.track_record import pit_columns, track_records

SKUS = pd.Index(["A", "B", "C"])
NAN = np.nan
# Two windows, three SKUs; C was never scored, B once.
LOSS = np.array([[1.0, NAN, NAN], [3.0, 2.0, NAN]])
BELOW = np.array([[0.20, NAN, NAN], [0.95, 0.35, NAN]])
AT_MOST = np.array([[0.40, NAN, NAN], [0.97, 0.45, NAN]])
# Two plain methods; the second was not scored on B.
PLAIN = np.array([[[2.0, NAN, NAN], [1.0, NAN, NAN]], [[3.0, 4.0, NAN], [5.0, NAN, NAN]]])


@pytest.fixture
def table() -> pd.DataFrame:
    backtest = Backtest(
        origins=(20, 30),
        horizons=np.array([1]),
        mass=np.zeros(0),
        expected=np.zeros(0),
        demand_class=np.zeros((2, 3), dtype=int),
        actual=np.array([[4.0, 9.0, 1.0], [6.0, 8.0, NAN]]),
        said=(),
        plain=Scores(PLAIN, PLAIN, PLAIN),
    )
    return track_records(backtest, Scores(LOSS, BELOW, AT_MOST), skus=SKUS, quantum=np.array([1.0, 0.5, 1.0]))


def test_record_sums_the_scored_windows_in_units(table: pd.DataFrame) -> None:
    assert table["windows"].tolist() == [2, 1, 0]
    # B is counted in halves: 8 of them are 4 units, and its losses are halved as well.
    assert table["demand"].tolist() == [10.0, 4.0, 0.0]
    assert table["loss"].tolist() == [4.0, 1.0, 0.0]


def test_plain_loss_is_the_least_on_the_same_windows(table: pd.DataFrame) -> None:
    # A: 2 + 3 by the first method, 1 + 5 by the second. B: the second was not scored.
    assert table["plain_loss"].tolist() == [5.0, 2.0, 0.0]


def test_outcome_is_spread_over_the_tenths_that_its_probability_covers(table: pd.DataFrame) -> None:
    histogram = table[pit_columns()].to_numpy()
    # A: 0.20 to 0.40 is half in the third and half in the fourth tenth, 0.95 to 0.97 all in the last.
    np.testing.assert_allclose(histogram[0], [0, 0, 0.5, 0.5, 0, 0, 0, 0, 0, 1.0], atol=1e-12)
    # B: 0.35 to 0.45 is half in the fourth and half in the fifth.
    np.testing.assert_allclose(histogram[1], [0, 0, 0, 0.5, 0.5, 0, 0, 0, 0, 0], atol=1e-12)
    assert histogram[2].sum() == 0.0


def test_record_is_empty_without_a_backtest() -> None:
    table = track_records(None, None, skus=SKUS, quantum=np.ones(3))
    assert (table == 0.0).all(axis=None)
