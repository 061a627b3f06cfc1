"""Rolling origins see nothing later, and calibrated forecasts come out calibrated."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from forecasting.backtest import Backtest, origins_for, run_backtest
from forecasting.methods.candidates import candidates_for
from forecasting.past import Setting
from forecasting.pooling import groups_of, phases_of
from forecasting.predict import DEFAULT_QUANTILES
from forecasting.selection import honest_scores, prior_weights

LONGEST, RISK = 8, 5


def _backtest(table: pd.DataFrame, *, attributes: pd.DataFrame | None = None) -> Backtest:
    calendar = pd.bdate_range(table.index[-1], periods=LONGEST + 1)[1:]
    setting = Setting(
        skus=table.columns,
        units=np.ascontiguousarray(table.to_numpy().T),
        phases=phases_of(table.index, longest=LONGEST, calendar=calendar, season_length=None),
        group=groups_of(table.columns, attributes),
        attributes=attributes,
        uplift=None,
        longest=LONGEST,
    )
    return run_backtest(
        setting,
        candidates=candidates_for(has_season=True),
        origins=origins_for(len(table), season_length=5),
        horizons=np.arange(1, LONGEST + 1),
        risk=np.full(table.shape[1], RISK),
        quantiles=DEFAULT_QUANTILES,
    )


@pytest.fixture(scope="module")
def kin(ship_days: pd.DataFrame) -> pd.DataFrame:
    return pd.DataFrame({"material": ["hard", "soft"] * 20, "size": ["1 kg"] * 20 + ["250 g"] * 20}, ship_days.columns)


@pytest.fixture(scope="module")
def steady() -> Backtest:
    """120 SKUs of steady negative binomial demand; about 12 x 120 windows are scored."""
    rng = np.random.default_rng(21)
    rate = np.geomspace(0.2, 6.0, 120)
    table = pd.DataFrame(
        rng.poisson(rng.gamma(1.0, rate, size=(260, 120))).astype(float),
        index=pd.bdate_range("2026-01-05", periods=260),
    )
    return _backtest(table)


def test_backtest_does_not_change_when_later_demand_changes(ship_days: pd.DataFrame, kin: pd.DataFrame) -> None:
    changed_from = 160
    changed = ship_days.copy()
    changed.iloc[changed_from:] = 9.0 * changed.iloc[changed_from:] + 3.0
    before, after = _backtest(ship_days, attributes=kin), _backtest(changed, attributes=kin)
    is_over = [origin + LONGEST <= changed_from for origin in before.origins]
    assert 3 < sum(is_over) < len(is_over)
    np.testing.assert_array_equal(before.mass[is_over], after.mass[is_over])
    np.testing.assert_array_equal(before.plain.loss[is_over], after.plain.loss[is_over])
    at_origin = sum(origin <= changed_from for origin in before.origins)
    np.testing.assert_array_equal(*(np.stack([said.mean for said in b.said[:at_origin]]) for b in (before, after)))
    assert not np.array_equal(before.mass, after.mass, equal_nan=True)


def test_weights_at_an_origin_rest_on_windows_that_were_over(steady: Backtest) -> None:
    origin = steady.origins[5]
    over = sum(o + h <= origin for o in steady.origins for h in steady.horizons)
    assert steady.windows_before(origin).count.size == 120 * over
    assert over < 6 * len(steady.horizons)


def test_actual_is_the_demand_cumulated_over_the_risk_period(ship_days: pd.DataFrame) -> None:
    backtest = _backtest(ship_days)
    j = next(j for j, o in enumerate(backtest.origins) if o > 150)
    origin = backtest.origins[j]
    np.testing.assert_array_equal(backtest.actual[j], ship_days.iloc[origin : origin + RISK].sum().to_numpy())


def test_windows_are_unknown_when_they_end_after_the_record(ship_days: pd.DataFrame) -> None:
    backtest = _backtest(ship_days)
    assert backtest.origins[-1] == 199
    assert np.isnan(backtest.actual[-1]).all()
    np.testing.assert_array_equal(np.isnan(backtest.mass[-1]).all(axis=(0, 1)), backtest.horizons > 1)


def test_horizons_that_teach_are_spread_over_those_asked_for(steady: Backtest) -> None:
    assert steady.horizons.tolist() == [1, 2, 4, 8]


def test_origins_end_with_the_record_and_visit_every_weekday() -> None:
    origins = np.array(origins_for(500, season_length=5))
    assert origins.max() == 499
    assert origins.min() >= 250
    assert origins.size == 16
    assert set(origins % 5) == {0, 1, 2, 3, 4}


def test_origins_are_none_when_the_record_is_short() -> None:
    assert origins_for(15, season_length=1) == ()


def test_coverage_is_near_its_probability_when_demand_is_steady(steady: Backtest) -> None:
    honest = honest_scores(steady, prior=prior_weights(candidates_for(has_season=True)), quantiles=DEFAULT_QUANTILES)
    coverage = np.nanmean(honest.coverage(DEFAULT_QUANTILES), axis=(0, 1))
    # 0.02 is over three binomial standard errors at .9 and above, and windows overlap.
    np.testing.assert_allclose(coverage[2:], DEFAULT_QUANTILES[2:], atol=0.02)
    np.testing.assert_allclose(coverage[:2], DEFAULT_QUANTILES[:2], atol=0.04)


def test_last_season_has_no_say_where_hardly_any_period_sells_and_is_scored_all_the_same(
    ship_days: pd.DataFrame,
) -> None:
    # The third SKU sells about every ninth day, the last one nearly daily.
    backtest = _backtest(ship_days.iloc[:, [2, -1]])
    seasonal_naive = backtest.mass[:, 0]
    assert np.isnan(seasonal_naive[:, 0]).all()
    assert not np.isnan(seasonal_naive[:, 1, 0]).any()
    assert not np.isnan(backtest.plain.loss[:-1, 0]).all(axis=0).any()
