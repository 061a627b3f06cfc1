"""The entry point as its users see it: laws, answers and refusals."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from forecasting import DemandForecast, ForecastingError, forecast

HORIZONS = [1, 3, 5, 10]


@pytest.fixture(scope="module")
def calendar(ship_days: pd.DataFrame) -> pd.DatetimeIndex:
    return pd.bdate_range(ship_days.index[-1], periods=11)[1:]


@pytest.fixture(scope="module")
def kin(ship_days: pd.DataFrame) -> pd.DataFrame:
    return pd.DataFrame({"material": ["hard", "soft"] * 20, "size": ["1 kg"] * 20 + ["250 g"] * 20}, ship_days.columns)


@pytest.fixture(scope="module")
def answer(ship_days: pd.DataFrame, calendar: pd.DatetimeIndex, kin: pd.DataFrame) -> DemandForecast:
    return forecast(ship_days, horizons=HORIZONS, attributes=kin, calendar=calendar)


def test_forecast_answers_for_every_sku_and_horizon(answer: DemandForecast, ship_days: pd.DataFrame) -> None:
    assert answer.skus.equals(ship_days.columns)
    assert answer.mean.shape == answer.variance.shape == answer.ppf(0.9).shape == (40, 4)
    assert answer.method.index.equals(answer.reason.index)
    assert answer.reason.map(str).str.fullmatch(r"[A-Z][^.]*.*\.").all()
    assert answer.reason.map(str).str.len().max() <= 300


def test_mean_and_quantiles_grow_with_the_horizon(answer: DemandForecast) -> None:
    assert np.all(np.diff(answer.mean, axis=1) >= 0)
    assert np.all(np.diff(answer.ppf(0.95), axis=1) >= 0)


def test_quantiles_do_not_cross(answer: DemandForecast) -> None:
    quantiles = answer.ppf(np.array([0.1, 0.5, 0.8, 0.9, 0.95, 0.98, 0.99])[:, None, None])
    assert np.all(np.diff(quantiles, axis=0) >= 0)


def test_forecast_equals_itself_when_run_again(
    answer: DemandForecast, ship_days: pd.DataFrame, calendar: pd.DatetimeIndex, kin: pd.DataFrame
) -> None:
    again = forecast(ship_days, horizons=HORIZONS, attributes=kin, calendar=calendar)
    np.testing.assert_array_equal(answer.mean, again.mean)
    np.testing.assert_array_equal(answer.variance, again.variance)
    pd.testing.assert_frame_equal(answer.benchmarks, again.benchmarks)


def test_forecast_does_not_depend_on_the_order_of_columns(
    answer: DemandForecast, ship_days: pd.DataFrame, calendar: pd.DatetimeIndex, kin: pd.DataFrame
) -> None:
    turned = forecast(ship_days.iloc[:, ::-1], horizons=HORIZONS, attributes=kin, calendar=calendar)
    np.testing.assert_allclose(turned.mean[::-1], answer.mean, rtol=1e-9)
    np.testing.assert_allclose(turned.variance[::-1], answer.variance, rtol=1e-9)
    assert turned.method[::-1].tolist() == answer.method.tolist()


def test_mean_follows_the_weekdays_of_the_calendar(ship_days: pd.DataFrame, kin: pd.DataFrame) -> None:
    mondays = pd.date_range("2026-10-12", periods=10, freq="W-MON")
    fridays = pd.date_range("2026-10-16", periods=10, freq="W-FRI")
    busy = forecast(ship_days, horizons=[10], attributes=kin, calendar=mondays)
    idle = forecast(ship_days, horizons=[10], attributes=kin, calendar=fridays)
    # The demand was made with Mondays four times as busy as Fridays; plain methods, which know none, have some weight.
    ratio = busy.mean[:, 0] / idle.mean[:, 0]
    assert 3.0 < np.median(ratio) < 4.5
    assert ratio.min() > 2.0


def test_known_event_lifts_the_coming_demand_and_not_the_level(ship_days: pd.DataFrame) -> None:
    index = ship_days.index.append(pd.bdate_range(ship_days.index[-1], periods=6)[1:])
    factors = pd.DataFrame(1.0, index=index, columns=ship_days.columns)
    plain = forecast(ship_days, horizons=[5], events=factors)
    factors.iloc[-5:] = 2.0
    lifted = forecast(ship_days, horizons=[5], events=factors)
    ratio = lifted.mean / plain.mean
    assert 1.7 < np.median(ratio) <= 2.0
    assert ratio.max() <= 2.0 + 1e-9


def test_level_is_that_of_full_periods_when_a_sku_could_be_sold_for_a_part_of_them() -> None:
    rng = np.random.default_rng(14)
    share = pd.DataFrame(rng.choice([0.0, 0.25, 1.0], size=(200, 30)))
    history = pd.DataFrame(rng.poisson(4.0 * share.to_numpy()).astype(float))
    answer = forecast(history, horizons=[5], available=share)
    assert np.median(answer.mean) == pytest.approx(20.0, rel=0.1)
    assert np.median(forecast(history, horizons=[5]).mean) < 12.0


def test_share_of_a_period_is_a_known_factor_like_any_other(ship_days: pd.DataFrame) -> None:
    # It was divided out of the demand and multiplied in again: 3 / 0.7 * 0.7 is not 3, nor were its scores.
    share = pd.DataFrame(0.7, index=ship_days.index, columns=ship_days.columns)
    coming = pd.DataFrame(1.0, index=pd.bdate_range(ship_days.index[-1], periods=6)[1:], columns=ship_days.columns)
    by_share = forecast(ship_days, horizons=[5], available=share)
    by_event = forecast(ship_days, horizons=[5], events=pd.concat([share, coming]))
    pd.testing.assert_frame_equal(by_share.benchmarks, by_event.benchmarks)
    np.testing.assert_array_equal(by_share.mean, by_event.mean)


def test_new_sku_gets_the_rate_of_its_kin(ship_days: pd.DataFrame, kin: pd.DataFrame) -> None:
    history = ship_days.assign(S99=np.nan)
    attributes = pd.concat([kin, pd.DataFrame({"material": ["hard"], "size": ["250 g"]}, index=["S99"])])
    answer = forecast(history, horizons=[5], attributes=attributes)
    family = ship_days.loc[:, (kin == ["hard", "250 g"]).all(axis=1)]
    assert answer.method["S99"].startswith("kin, ")
    assert answer.demand_class["S99"] == "new"
    # A regression without interaction of two values: within half of the mean of the SKUs with the same attributes.
    assert answer.mean[-1, 0] == pytest.approx(5 * family.mean().mean(), rel=0.5)
    # The 99 % level of a SKU nobody has seen sell must allow for kin that sell several times the mean.
    assert answer.ppf(0.99)[-1, 0] > 2 * answer.mean[-1, 0]


def test_sku_that_never_sold_has_a_small_forecast_that_is_not_negative(ship_days: pd.DataFrame) -> None:
    answer = forecast(ship_days.assign(S99=0.0), horizons=[5])
    assert 0.0 <= answer.mean[-1, 0] < 0.5


def test_benchmark_table_has_no_loss_of_a_class_that_never_sold(ship_days: pd.DataFrame) -> None:
    # It was 0 / 0, and the seasonal naive method won.
    never = pd.DataFrame(0.0, index=ship_days.index, columns=[f"N{i}" for i in range(40)])
    answer = forecast(pd.concat([ship_days, never], axis=1), horizons=[5])
    assert set(answer.demand_class[never.columns]) == {"sparse"}
    assert answer.benchmarks["loss"].notna().all()
    assert "sparse" not in set(answer.benchmarks["demand_class"])
    assert str(answer.reason["N0"]).startswith("No sale in 200 periods")


def test_short_record_says_that_nothing_was_compared() -> None:
    answer = forecast(pd.DataFrame({"A": [1.0, 0.0, 2.0] * 4}), horizons=[5])
    assert answer.benchmarks.empty
    assert str(answer.reason["A"]).endswith("the record is too short to compare methods.")


def test_benchmark_table_holds_the_plain_methods_and_the_choice(answer: DemandForecast) -> None:
    everywhere = answer.benchmarks.query("demand_class == 'all'").set_index("method")
    assert {"seasonal naive", "ses 0.1", "sba 0.1", "empirical", "chosen"} <= set(everywhere.index)
    # The demand has a strong week: the mixture must not lose more than the plain methods that do not know it.
    assert everywhere.loc["chosen", "loss"] <= everywhere.loc[["ses 0.1", "sba 0.1", "seasonal naive"], "loss"].min()
    assert everywhere["coverage_0.9"].between(0.0, 1.0).all()


def test_benchmark_table_is_empty_when_too_few_origins_came_before() -> None:
    rng = np.random.default_rng(2)
    answer = forecast(pd.DataFrame(rng.poisson(2.0, size=(15, 10)).astype(float)), horizons=[2])
    assert answer.benchmarks.empty
    assert str(answer.reason[0]).endswith("the record is too short to compare methods.")


def test_sku_that_grows_faster_than_forecast_is_named_by_an_alarm(ship_days: pd.DataFrame) -> None:
    grown = ship_days.copy()
    grown.iloc[100:, -1] = np.round(6.0 * 1.05 ** np.arange(100))
    alarms = forecast(grown, horizons=[5]).alarms
    assert "S39" in set(alarms.query("kind == 'sells more than forecast'")["name"])


def test_samples_have_the_moments_of_the_forecast_and_never_fall(answer: DemandForecast) -> None:
    paths = answer.sample(4000, np.random.default_rng(9))
    assert np.all(np.diff(paths, axis=2) >= 0)
    error = np.sqrt(answer.variance / 4000)
    assert np.all(np.abs(paths.mean(axis=0) - answer.mean) <= 5 * error)
    assert np.median(paths.var(axis=0) / answer.variance) == pytest.approx(1.0, abs=0.1)


def test_frame_has_one_row_per_sku_and_horizon(answer: DemandForecast) -> None:
    frame = answer.to_frame([0.5, 0.99])
    assert frame.columns.tolist() == ["sku", "horizon", "mean", "variance", "0.5", "0.99"]
    assert frame.loc[5, ["sku", "horizon"]].tolist() == ["S01", 3]
    assert frame.loc[5, "0.99"] == answer.ppf(0.99)[1, 1]


def test_distribution_functions_agree_with_each_other(answer: DemandForecast) -> None:
    x = answer.ppf(0.9)
    np.testing.assert_allclose(answer.cdf(x) + answer.sf(x), 1.0)
    np.testing.assert_allclose(answer.cdf(x) - answer.cdf(x - 1), answer.pmf(x), atol=1e-9)
    np.testing.assert_allclose(answer.expected_shortage(x) - answer.expected_shortage(x + 1), answer.sf(x), atol=1e-9)


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        ({"horizons": []}, "horizons must be whole numbers"),
        ({"horizons": [0, 1]}, "horizons must be whole numbers"),
        ({"quantiles": [0.5, 1.0]}, "quantiles must be probabilities"),
        ({"risk_periods": {"S00": 3}}, "risk_periods lack SKU 'S01'"),
        ({"risk_periods": {f"S{i:02d}": 99 for i in range(40)}}, r"SKU 'S00' must be in 1\.\.5; got 99"),
        ({"season_length": 0}, "season_length must be a whole number >= 1"),
        ({"events": pd.DataFrame({"A": [1.0]})}, "events must have the columns of the history"),
    ],
)
def test_forecast_is_refused_with_what_is_wrong(wrong: dict[str, object], words: str, ship_days: pd.DataFrame) -> None:
    with pytest.raises(ForecastingError, match=words):
        forecast(ship_days, **({"horizons": [5]} | wrong))


def _weekly(count: int = 60) -> pd.DataFrame:
    rng = np.random.default_rng(8)
    weeks = pd.date_range("2026-01-05", periods=count, freq="7D")
    return pd.DataFrame(rng.poisson(3.0, size=(count, 4)).astype(float), index=weeks, columns=list("ABCD"))


def _without(place: int, table: pd.DataFrame) -> pd.DataFrame:
    return table.drop(table.index[place])


@pytest.mark.parametrize(
    ("history", "words"),
    [
        (_without(5, _weekly()), r"2026-02-09.*is missing before row.*2026-02-16"),
        (_without(5, _weekly().reset_index(drop=True)), "period 5 is missing before row 6"),
        (_without(5, _weekly().set_axis(pd.date_range("2026-01-05", periods=60), axis=0)), r"2026-01-10.*is missing"),
        (_weekly().astype(str), r"must be a number; got '.*' at row .*2026-01-05.*column 'A'"),
        (_weekly().set_axis([*_weekly().index[:9], pd.NaT, *_weekly().index[10:]], axis=0), "row 9 has no period"),
    ],
)
def test_history_is_refused_with_the_row_at_fault(history: pd.DataFrame, words: str) -> None:
    with pytest.raises(ForecastingError, match=words):
        forecast(history, horizons=[2])


def test_ship_days_may_leave_out_a_holiday(ship_days: pd.DataFrame) -> None:
    assert forecast(_without(30, ship_days), horizons=[1]).mean.shape == (40, 1)


def test_season_length_is_refused_when_no_whole_number() -> None:
    with pytest.raises(ForecastingError, match=r"season_length must be a whole number >= 1; got 2.5"):
        forecast(_weekly(), horizons=[2], season_length=2.5)
    whole = forecast(_weekly(), horizons=[2], season_length=4)
    np.testing.assert_array_equal(forecast(_weekly(), horizons=[2], season_length=4.0).mean, whole.mean)


def test_time_spans_are_forecast_as_the_dates_they_begin_with() -> None:
    months = _weekly().set_axis(pd.date_range("2021-01-01", periods=60, freq="MS"), axis=0)
    spans = months.set_axis(months.index.to_period("M"), axis=0)
    np.testing.assert_array_equal(forecast(spans, horizons=[3]).mean, forecast(months, horizons=[3]).mean)


def test_months_have_a_season_and_no_weekdays_when_a_calendar_is_given() -> None:
    months = _weekly().set_axis(pd.date_range("2021-01-01", periods=60, freq="MS"), axis=0)
    coming = pd.date_range("2026-01-01", periods=3, freq="MS")
    dated = forecast(months, horizons=[3], calendar=coming)
    np.testing.assert_array_equal(dated.mean, forecast(months, horizons=[3]).mean)


@pytest.mark.parametrize("periods", [1, 2, 3, 5, 12, 24])
@pytest.mark.parametrize("skus", [1, 4])
def test_few_periods_are_answered_with_finite_numbers_in_order(periods: int, skus: int) -> None:
    answer = forecast(_weekly().iloc[:periods, :skus], horizons=[1, 3, 6])
    quantiles = answer.ppf(np.array([0.5, 0.9, 0.99])[:, None, None])
    assert np.isfinite(np.stack([answer.mean, answer.variance, *quantiles])).all()
    assert np.all(np.diff(quantiles, axis=0) >= 0)
    assert np.all(np.diff(quantiles, axis=2) >= 0)


def test_season_that_is_mostly_nothing_has_no_say_and_is_scored_all_the_same() -> None:
    rng = np.random.default_rng(31)
    rare = pd.DataFrame(np.where(rng.uniform(size=(120, 40)) < 0.02, 900.0, 0.0))
    answer = forecast(rare, horizons=[1, 6], season_length=6)
    assert np.all(np.diff(answer.ppf(np.array([0.5, 0.8, 0.95])[:, None, None]), axis=2) >= 0)
    assert not answer.reason.map(str).str.contains("last season").any()
    windows = answer.benchmarks.query("demand_class == 'all'").set_index("method")["windows"]
    assert windows["seasonal naive"] == windows["chosen"]
