"""Stock built ahead of weeks that the lines cannot follow, against a linear programme and brute force."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from scipy.optimize import linprog
from scipy.stats import nbinom, poisson

from forecasting.distribution import NegativeBinomial
from stockplan.planner.core.built_ahead import BuiltAhead, LaterDemand, built_ahead, minutes_ahead, shared_out
from stockplan.planner.core.planning import choose_runs, make_plan
from stockplan.planner.core.plant import Plant, plant_of
from tests.planner.small_facts import calendar, facts, line, sku

# The list ends on Wednesday 3 March 2027: two days of its week are left, then whole weeks until Sunday 4 April.
LATER = tuple(calendar().ship_days(date(2027, 3, 4), date(2027, 4, 4)))
DAY_MIN = 16 * 60
# A spool of a kilogram takes 20 minutes: 48 a day fill the line.
FULL = 48.0
SEASON = date(2027, 3, 22)
NONE = np.zeros(2)


def _plant(**fields: object) -> Plant:
    return plant_of(facts(list_days=3, **fields).in_order())


def _later(before: tuple[float, float], season: tuple[float, float]) -> LaterDemand:
    """Poisson demand of both SKUs a day, before the week of the season and from then on."""
    mean = np.array([season if day >= SEASON else before for day in LATER]).T
    return LaterDemand(LATER, mean, np.ones(2))


@pytest.mark.parametrize("seed", range(20))
def test_minutes_ahead_are_the_least_stock_of_a_linear_programme(seed: int) -> None:
    """HiGHS by scipy.optimize.linprog: least stock by the end of each week, production within the open minutes."""
    rng = np.random.default_rng(seed)
    weeks = 9
    needed, opened = rng.uniform(0, 100, weeks), rng.uniform(20, 110, weeks)
    # Variables: stock before each week, and production in it; whatever the first week lacks is there already.
    balance = np.hstack([np.eye(weeks) - np.eye(weeks, k=1), np.eye(weeks)])
    found = linprog(
        np.repeat([1.0, 0.0], weeks),
        A_ub=-balance,
        b_ub=-needed,
        bounds=[(0, None)] * weeks + [(0, high) for high in opened],
    )
    assert found.success
    np.testing.assert_allclose(minutes_ahead(needed, opened), found.x[:weeks], atol=1e-7)


def test_spools_built_ahead_are_the_same_share_of_each_median_demand() -> None:
    """Medians of scipy's Poisson and negative binomial distributions."""
    mean, variance = np.array([400.0, 250.0, 60.0, 0.5]), np.array([400.0, 500.0, 60.0, 0.5])
    minutes = np.array([20.0, 30.0, 20.0, 20.0])
    medians = np.array([poisson.ppf(0.5, 400), nbinom.ppf(0.5, 250, 0.5), poisson.ppf(0.5, 60), 0])
    found = shared_out(NegativeBinomial(mean, variance), minutes=minutes, wanted_min=3000)
    share = found @ minutes / (medians @ minutes)
    assert 0 <= found @ minutes - 3000 < minutes.sum()
    np.testing.assert_allclose(found, share * medians, atol=0.75)


def test_no_more_is_built_ahead_than_is_likely_to_be_sold() -> None:
    mean = np.array([10.0, 3.0, 8.0])
    found = shared_out(NegativeBinomial(mean, mean), minutes=np.array([20.0, 20.0, 0.0]), wanted_min=1e6)
    np.testing.assert_array_equal(found, [*poisson.ppf(0.5, mean[:2]), 0])


def test_weeks_within_reach_of_the_lines_ask_for_nothing_beforehand() -> None:
    found = built_ahead(_plant(), _later((20.0, 5.0), (30.0, 15.0)), covered_days=NONE, changeover_min=30)
    assert not found.spools.any()
    assert found.first_day is None
    assert str(found.sentence(date(2027, 3, 3))).endswith("the lines can follow it.")


def test_a_season_beyond_the_lines_is_built_ahead_by_what_the_weeks_before_cannot_make() -> None:
    """Two weeks at a quarter above the line: 2 x 5 x 12 spools; the weeks before have 2 spools a day to spare."""
    found = built_ahead(_plant(), _later((40.0, 6.0), (50.0, 10.0)), covered_days=NONE, changeover_min=0)
    missing, spare = 2 * 5 * 12 * 20.0, 12 * 2 * 20.0
    assert (found.first_day, found.last_day) == (SEASON, date(2027, 4, 2))
    assert found.short_min == pytest.approx(missing)
    assert found.ahead_min == pytest.approx(min(missing - spare, spare))
    assert found.ahead_min <= found.spools @ [20.0, 20.0] < found.ahead_min + 2 * 20.0
    assert found.spools[0] > found.spools[1]
    said = str(found.sentence(date(2027, 3, 3)))
    assert said.startswith("From Mon 22 Mar to Fri 2 Apr demand asks for 40 line hours more than the lines work. 8 of")


def test_what_levels_hold_for_the_season_is_not_built_twice() -> None:
    """The level of the first SKU reaches two days into the season: 3 days of the list, 12 up to the season, and 2."""
    demand = _later((40.0, 6.0), (50.0, 10.0))
    whole = built_ahead(_plant(), demand, covered_days=NONE, changeover_min=0)
    rest = built_ahead(_plant(), demand, covered_days=np.array([17.0, 0.0]), changeover_min=0)
    np.testing.assert_array_equal(rest.spools, np.maximum(whole.spools - [2 * 50, 0], 0))
    assert rest.ahead_min == whole.ahead_min


def test_spare_weeks_in_between_make_up_for_a_short_season() -> None:
    found = built_ahead(_plant(), _later((10.0, 6.0), (44.0, 6.0)), covered_days=NONE, changeover_min=0)
    assert not found.spools.any()
    assert found.short_min > 0
    assert "have them to spare" in str(found.sentence(date(2027, 3, 3)))


def test_a_plant_that_is_short_throughout_cannot_build_ahead() -> None:
    found = built_ahead(_plant(), _later((50.0, 10.0), (50.0, 10.0)), covered_days=NONE, changeover_min=0)
    assert not found.spools.any()
    assert found.ahead_min == 0


def test_changeovers_and_closed_days_take_of_the_time() -> None:
    demand = _later((30.0, 6.0), (40.0, 8.0))
    assert built_ahead(_plant(), demand, covered_days=NONE, changeover_min=0).first_day is None
    assert built_ahead(_plant(), demand, covered_days=NONE, changeover_min=60).first_day == SEASON
    holiday = calendar(closed=frozenset({date(2027, 3, 26)}))
    shut = built_ahead(_plant(calendar=holiday), demand, covered_days=NONE, changeover_min=0)
    assert (shut.first_day, shut.short_min) == (SEASON, pytest.approx(DAY_MIN))


def test_what_no_line_makes_is_not_built_ahead() -> None:
    plant = _plant(lines=(line(makes=("A",)),))
    found = built_ahead(plant, _later((40.0, 60.0), (60.0, 90.0)), covered_days=NONE, changeover_min=0)
    assert found.spools[0] > 0
    assert found.spools[1] == 0


def test_a_list_makes_what_is_built_ahead_and_says_why() -> None:
    """Both shelves are full to their levels; only what is ahead is made, and the search does not stop at part of it."""
    skus = tuple(sku(code, daily=1.0, shelf=12, order_up_to=12) for code in ("A", "B"))
    plain = facts(skus=skus)
    plain = replace(plain, parameters=replace(plain.parameters, search_moves=300))
    asked = replace(
        plain,
        skus=(replace(skus[0], order_up_to=72, ahead=60), skus[1]),
        later_weeks=BuiltAhead(np.array([60, 0]), SEASON, SEASON, 1200.0, 1200.0).sentence(plain.last_day),
    )
    assert sum(sum(run.lot.spools) for run in choose_runs(plain).runs) < 20
    made = choose_runs(asked).runs
    assert sum(sum(run.lot.spools) for run in made if run.lot.filament == "A") >= 55
    plan = make_plan(asked)
    assert "60 spools above the levels" in " ".join(map(str, plan.assumptions))
    assert "60 spools are wanted ahead of weeks that the lines cannot follow;" in str(plan.runs[0].reason)
