"""Why a forecast is as it is, in words that a planner reads."""

from __future__ import annotations

import re

import pandas as pd
import pytest

from forecasting import DemandForecast, forecast
from forecasting.methods.candidates import candidates_for


@pytest.fixture(scope="module")
def answer(ship_days: pd.DataFrame) -> DemandForecast:
    return forecast(ship_days, horizons=[5])


def test_reason_names_the_methods_with_the_most_weight_by_their_words(answer: DemandForecast) -> None:
    words = {str(one.words) for one in candidates_for(has_season=True)}
    for reason in map(str, answer.reason):
        named = re.search(r"\. A mixture, chiefly (.+?) \(\d+%\)(?: and (.+?) \(\d+%\))?; ", reason)
        assert named is not None
        assert {name for name in named.groups() if name} <= words


def test_reason_says_no_word_twice_running(answer: DemandForecast) -> None:
    # It read "above all all its sales".
    assert not [reason for reason in map(str, answer.reason) if re.search(r"\b([a-z]+) \1\b", reason)]


@pytest.mark.parametrize(
    "name", ["kin, all sales", "kin, about 50 periods", "kin, about 20 periods"], ids=["all", "50", "20"]
)
def test_rate_of_the_kin_is_named_by_the_memory_of_its_own_sales(name: str) -> None:
    # A weight that loses 0.02 a period sums to 1 / 0.02 = 50 periods, 0.05 to 20 (geometric series).
    assert name in {one.name for one in candidates_for(has_season=False)}
