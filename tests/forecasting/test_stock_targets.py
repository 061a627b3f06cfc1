"""Order-up-to levels against published values, stockpyl and a brute-force simulation of the periodic review."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from stockpyl.newsvendor import newsvendor_discrete, newsvendor_poisson

from forecasting.distribution import NegativeBinomial
from forecasting.errors import ParameterError
from forecasting.stock_targets import (
    base_stock_cycle_service,
    base_stock_fill_rate,
    cycle_service,
    fill_rate,
    risk_period,
    safety_stock,
)

Published = Callable[[str], dict[str, Any]]
MEAN, VARIANCE = 1.5, 4.5  # one day's demand of the simulation
LEAD, REVIEW = 3, 4


def _days(n: int) -> NegativeBinomial:
    """Independent days with the same success probability: their sum is negative binomial again."""
    return NegativeBinomial(n * MEAN, n * VARIANCE)


def test_newsvendor_level_and_cost_equal_published_values(published: Published) -> None:
    entry = published("Newsvendor Poisson")  # Snyder & Shen, 2nd ed., example 4.7
    h, p, mean = (entry["inputs"][key] for key in ("holding_cost", "stockout_cost", "mean"))
    demand = NegativeBinomial(mean, mean)
    level = base_stock_cycle_service(p / (h + p), risk_demand=demand)
    short = demand.expected_shortage(level)
    assert level == entry["expected"]["S"]
    assert h * (level - mean + short) + p * short == pytest.approx(entry["expected"]["cost"], abs=1e-7)


def test_newsvendor_level_equals_stockpyl_for_poisson_and_negative_binomial() -> None:
    demand = NegativeBinomial([6.0, 12.0], [6.0, 30.0])
    poisson, _ = newsvendor_poisson(holding_cost=1, stockout_cost=19, demand_mean=6)
    size, success = 12.0**2 / 18.0, 12.0 / 30.0
    wide, _ = newsvendor_discrete(holding_cost=1, stockout_cost=19, demand_distrib=stats.nbinom(size, success))
    np.testing.assert_array_equal(base_stock_cycle_service(0.95, risk_demand=demand), [poisson, wide])


def test_base_stock_table_equals_published_values(published: Published) -> None:
    entry = published("Base-stock, Poisson")  # Zipkin (2000), section 6.2; Feeney & Sherbrooke (1966)
    s, demand = np.array(entry["inputs"]["s"]), NegativeBinomial(10.0, 10.0)
    # A is the chance of demand of at least s, so cycle service is one minus A of the next level.
    np.testing.assert_allclose(1 - cycle_service(s - 1, risk_demand=demand), entry["expected"]["A"], atol=1e-10)
    np.testing.assert_allclose(demand.expected_shortage(s), entry["expected"]["B"], atol=1e-10)
    held = safety_stock(s, risk_demand=demand) + demand.expected_shortage(s)
    np.testing.assert_allclose(held, entry["expected"]["I"], atol=1e-10)


def test_fill_rate_equals_ready_rate_of_unit_demands(published: Published) -> None:
    # With Poisson demand of single units and a vanishing review interval fill rate and ready rate 1 - A agree.
    entry = published("Base-stock, Poisson")
    s, tiny = np.array(entry["inputs"]["s"]), 1e-5
    lead, risk = NegativeBinomial(10.0, 10.0), NegativeBinomial(10.0 + tiny, 10.0 + tiny)
    share = fill_rate(s, lead_demand=lead, risk_demand=risk)
    np.testing.assert_allclose(share, 1 - np.array(entry["expected"]["A"]), atol=1e-4)


@dataclass(frozen=True)
class Simulated:
    """Mean over replications and its standard error."""

    fill_rate: float
    fill_rate_error: float
    cycle_service: float
    cycle_service_error: float


def _simulate(base_stock: int, *, replications: int = 400, cycles: int = 120, warm_up: int = 10) -> Simulated:
    """Walk day by day: every REVIEW days order up to the level, to arrive LEAD days later; backlog waits."""
    rng = np.random.default_rng(2026)
    net, position = np.full(replications, base_stock), np.full(replications, base_stock)
    due: dict[int, np.ndarray] = {}
    met, asked = np.zeros(replications), np.zeros(replications)
    quiet, ended = np.zeros(replications), 0
    for day in range(cycles * REVIEW):
        if day % REVIEW == 0:
            due[day + LEAD] = base_stock - position
            position = np.full(replications, base_stock)
        net = net + due.pop(day, 0)
        demand = _days(1).sample(rng, size=(replications,))
        if day >= warm_up * REVIEW:
            met += np.clip(net, 0, demand)
            asked += demand
            if (day + 1 - LEAD) % REVIEW == 0:  # the next order arrives tomorrow
                quiet += net - demand >= 0
                ended += 1
        net, position = net - demand, position - demand
    share, calm, root = met / asked, quiet / ended, np.sqrt(replications)
    return Simulated(share.mean(), share.std(ddof=1) / root, calm.mean(), calm.std(ddof=1) / root)


@pytest.mark.parametrize("base_stock", [8, 14, 20])
def test_fill_rate_and_cycle_service_equal_a_brute_force_simulation(base_stock: int) -> None:
    # 400 replications of 110 counted cycles: standard errors between 0.0004 and 0.003.
    simulated = _simulate(base_stock)
    share = fill_rate(base_stock, lead_demand=_days(LEAD), risk_demand=_days(LEAD + REVIEW))
    service = cycle_service(base_stock, risk_demand=_days(LEAD + REVIEW))
    assert 0 < simulated.fill_rate_error < 0.003
    assert abs(share - simulated.fill_rate) <= 3.5 * simulated.fill_rate_error
    assert abs(service - simulated.cycle_service) <= 3.5 * simulated.cycle_service_error


def test_one_term_fill_rate_would_be_wrong_when_there_is_a_lead_time() -> None:
    # Design section 4: the one-term form holds for L = 0 only; the simulation tells the two apart.
    simulated, risk = _simulate(8), _days(LEAD + REVIEW)
    one_term = 1 - risk.expected_shortage(8) / (REVIEW * MEAN)
    assert abs(one_term - simulated.fill_rate) > 20 * simulated.fill_rate_error


TARGET = st.floats(0.0, 0.995)
DAY_MEAN, RATIO = st.floats(0.02, 20.0), st.floats(1.0, 8.0)


@given(target=TARGET, mean=DAY_MEAN, ratio=RATIO)
def test_base_stock_is_the_least_level_that_reaches_the_fill_rate(target: float, mean: float, ratio: float) -> None:
    lead, risk = NegativeBinomial([3 * mean], [3 * mean * ratio]), NegativeBinomial([7 * mean], [7 * mean * ratio])
    level = base_stock_fill_rate(target, lead_demand=lead, risk_demand=risk)
    assert fill_rate(level, lead_demand=lead, risk_demand=risk) >= target
    assert level == 0 or fill_rate(level - 1, lead_demand=lead, risk_demand=risk) < target


@given(targets=st.tuples(TARGET, TARGET), mean=DAY_MEAN, ratio=RATIO)
def test_stock_grows_with_the_target(targets: tuple[float, float], mean: float, ratio: float) -> None:
    low, high = sorted(targets)
    lead, risk = NegativeBinomial([3 * mean], [3 * mean * ratio]), NegativeBinomial([7 * mean], [7 * mean * ratio])
    by_fill = [base_stock_fill_rate(t, lead_demand=lead, risk_demand=risk)[0] for t in (low, high)]
    by_cycle = [base_stock_cycle_service(t, risk_demand=risk)[0] for t in (low, high)]
    assert by_fill[0] <= by_fill[1]
    assert by_cycle[0] <= by_cycle[1]


def test_fill_rate_is_one_when_nothing_is_demanded() -> None:
    nothing = NegativeBinomial([0.0], [0.0])
    assert fill_rate(0, lead_demand=nothing, risk_demand=nothing).tolist() == [1.0]
    assert base_stock_fill_rate(0.99, lead_demand=nothing, risk_demand=nothing).tolist() == [0.0]


def test_risk_period_takes_the_longer_of_review_and_run_interval() -> None:
    # Design section 4: L + R, R = max(review interval, expected interval between runs).
    periods = risk_period(lead_periods=[2, 2], review_periods=1, run_interval_periods=[8.5, 0.5])
    np.testing.assert_array_equal(periods, [10.5, 3.0])


def test_targets_are_refused_when_out_of_range() -> None:
    demand = NegativeBinomial([1.0], [1.0])
    with pytest.raises(ParameterError, match=r"\[0, 1\)"):
        base_stock_fill_rate(1.0, lead_demand=demand, risk_demand=demand)
    with pytest.raises(ParameterError, match="at least the demand over the lead time"):
        fill_rate(1, lead_demand=NegativeBinomial([2.0], [2.0]), risk_demand=demand)
    with pytest.raises(ParameterError, match="lead periods must be >= 0"):
        risk_period(lead_periods=-1, review_periods=1, run_interval_periods=1)
