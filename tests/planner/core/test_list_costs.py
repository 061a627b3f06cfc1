"""What the search is shown beside misses: risk of the last days, stock held, and what is left at the end."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from stockplan.planner.core.facts import PlanFacts
from stockplan.planner.core.list_costs import (
    ABOVE_LEVEL,
    MINUTE_SHARE,
    REACT_DAYS,
    Prices,
    costs_by_supply,
    misses_by_supply,
    prices_of,
)
from stockplan.planner.core.opening import opening_of
from stockplan.planner.core.outlook import outlook_of
from stockplan.planner.core.plant import plant_of
from stockplan.planner.core.shortage import Floats
from stockplan.planner.core.supply import supply_state
from tests.planner.small_facts import facts, filament, line, sku

FREE = Prices(minute=0.0, stock_day=0.0, run_days={})
FAR = np.arange(2000)


def costs(instance: PlanFacts, *, most: int, prices: Prices | None) -> Floats:
    plant = plant_of(instance.in_order())
    state = supply_state(plant, opening_of(plant))
    if prices is None:
        return misses_by_supply(plant, state, 0, most=most)
    return costs_by_supply(plant, state, 0, most=most, prices=prices)


def lumpy(**fields: object) -> PlanFacts:
    """Negative binomial demand of 2 a day, variance twice the mean, nothing on the shelf."""
    mean = tuple(2.0 * t for t in range(1, 9))
    figures: dict[str, object] = {"daily": 2.0, "variance": tuple(2 * m for m in mean), "order_up_to": 1000}
    return facts(codes=("A",), skus=(sku("A", **(figures | fields)),))  # type: ignore[arg-type]


def shortage(x: int, mean: float) -> float:
    """Reference: sums over scipy.stats.nbinom, variance twice the mean (success probability a half)."""
    return float(np.sum(np.maximum(FAR - x, 0) * stats.nbinom.pmf(FAR, mean, 0.5)))


def test_misses_of_the_next_days_are_those_of_the_list() -> None:
    near = slice(0, REACT_DAYS)
    found, listed = costs(lumpy(), most=30, prices=FREE), costs(lumpy(), most=30, prices=None)
    # All of the list's three days count in full.
    np.testing.assert_allclose(found[:, :3], listed[:, :3])
    assert np.all(found[:, near] > 0)


@pytest.mark.parametrize(("spools", "day"), [(6, 4), (12, 5), (20, 7)])
def test_later_day_is_at_risk_from_the_last_days_before_it_alone(spools: int, day: int) -> None:
    # 2 a day: by the day `REACT_DAYS` before, 2 (day + 1 - 4) are taken as sold.
    left = spools - 2 * (day + 1 - REACT_DAYS)
    late = shortage(left, 2.0 * (REACT_DAYS - 1))
    expected = shortage(left, 2.0 * REACT_DAYS) - late + 0.1 * late
    assert costs(lumpy(), most=30, prices=FREE)[spools, day] == pytest.approx(expected)


def test_later_day_counts_orders_in_the_books_in_full() -> None:
    # 5 units ordered for the sixth day take 5 spools from then on, on the next day also of what was there before it.
    ordered = costs(lumpy(due=(0,) * 5 + (5,) * 3), most=30, prices=FREE)
    np.testing.assert_allclose(ordered[10:, 6:], costs(lumpy(), most=30, prices=FREE)[5:-5, 6:])


def test_part_of_a_spool_sold_counts_in_proportion() -> None:
    # 1.5 a day: on the fifth day 1.5 are sold, half way between one and two.
    def at(first_day: float) -> float:
        mean = tuple(first_day + 1.5 * t for t in range(8))
        instance = facts(codes=("A",), skus=(sku("A", mean=mean, variance=mean, order_up_to=1000),))
        return float(costs(instance, most=30, prices=FREE)[6, 4])

    assert at(1.5) == pytest.approx((at(1.0) + at(2.0)) / 2)


def test_stock_costs_its_winding_minutes_each_day() -> None:
    # A spool takes 20 min; of 50 spools 2 a day are sold: 48 are left on the first day, 46 on the second.
    prices = Prices(minute=0.01, stock_day=0.1, run_days={"A": 5.0})
    held = costs(lumpy(), most=50, prices=prices) - costs(lumpy(), most=50, prices=FREE)
    np.testing.assert_allclose(held[50, :2], [0.01 * 0.1 * 20 * 48, 0.01 * 0.1 * 20 * 46])


def test_spool_left_at_the_end_is_worth_its_winding_and_its_part_of_a_changeover() -> None:
    # 16 are sold in 8 days. One more at the end: 20 min and 0.1 x 5 / 2 of them saved, 0.1 of them paid for the day.
    prices = Prices(minute=0.01, stock_day=0.1, run_days={"A": 5.0})
    saved = costs(lumpy(), most=50, prices=FREE) - costs(lumpy(), most=50, prices=prices)
    assert saved[50, -1] - saved[49, -1] == pytest.approx(0.01 * 20 * (1.25 - 0.1))


def test_spool_above_the_level_costs_each_day_and_is_worth_nothing_at_the_end() -> None:
    prices = Prices(minute=0.01, stock_day=0.0, run_days={"A": 5.0})
    priced = costs(lumpy(order_up_to=30), most=60, prices=prices)
    misses = costs(lumpy(), most=60, prices=FREE)
    above = priced - misses
    # Four fifths of the level are filled: 24, and 2 are expected to be sold by the first pick-up.
    assert np.diff(above[:, 0])[[25, 26]] == pytest.approx([0.0, ABOVE_LEVEL])
    # By the last pick-up 16 are: 40 reach it then, more are above it.
    assert above[60, 6] - above[59, 6] == pytest.approx(ABOVE_LEVEL)
    assert above[60, 7] - above[59, 7] == pytest.approx(ABOVE_LEVEL)
    assert above[40, 7] - above[39, 7] == pytest.approx(-0.01 * 20)


def test_stock_is_priced_so_that_the_run_intervals_of_the_outlook_are_the_cheapest() -> None:
    # Reference: changeovers c / R and stock kappa w R / 2 a day, minimised over R by brute force.
    instance = facts(
        codes=("A", "B"),
        skus=tuple(sku(code, daily=daily, order_up_to=60) for code, daily in (("A", 4.0), ("B", 36.0))),
        filaments=(filament("A"), filament("B")),
        lines=(line(makes=("A", "B"), start_up_min=60.0),),
    )
    plant = plant_of(instance.in_order())
    kappa, run_days = prices_of(plant).stock_day, outlook_of(plant).run_days
    grid = np.linspace(0.5, 20, 2000)
    # Winding of 20 min a spool; a changeover of 12 min and a start-up of 60.
    for code, winding_min in (("A", 80.0), ("B", 720.0)):
        cost = 72.0 / grid + kappa * winding_min * grid / 2
        assert run_days[code] == pytest.approx(grid[cost.argmin()], abs=0.02)


@pytest.mark.parametrize(
    ("daily", "full"),
    [
        # 20 min a spool, 16 h a day: 20 spools are 400 of 960 min, 5 / 12 of them; 40.8 are .85; 60 are more than all.
        (20.0, (5 / 12 / 0.85) ** 10),
        (40.8, 1.0),
        (60.0, 1.0),
    ],
)
def test_minute_is_worth_its_share_of_the_spools_that_demand_asks_of_it(daily: float, full: float) -> None:
    found = prices_of(plant_of(lumpy(daily=daily).in_order())).minute
    assert found == pytest.approx(MINUTE_SHARE * full * daily / 960)


def test_demand_that_is_ordered_already_takes_the_lines_as_demand_to_come_does() -> None:
    """A list that knows all orders had no load, no run intervals and no worth of a minute before."""
    days = tuple(range(2, 18, 2))
    to_come = plant_of(facts(skus=tuple(sku(code, daily=2.0) for code in ("A", "B"))).in_order())
    ordered = plant_of(facts(skus=tuple(sku(code, daily=0.0, due=days) for code in ("A", "B"))).in_order())
    assert outlook_of(ordered) == outlook_of(to_come)
    assert prices_of(ordered) == prices_of(to_come)
    assert prices_of(ordered).minute > 0


def test_a_search_fills_up_all_that_is_built_ahead() -> None:
    """Of the usual level of 20 four fifths, and the ten ahead on top: only above these a spool is one too many."""
    asked = lumpy(daily=0.0, variance=(0.0,) * 8, order_up_to=30, ahead=10)
    found = costs(asked, most=40, prices=FREE)[:, -1]
    np.testing.assert_allclose(np.diff(found), [0.0] * 26 + [ABOVE_LEVEL] * 14)


def test_what_is_built_ahead_is_missed_after_the_last_day_of_the_list() -> None:
    asked = lumpy(daily=0.0, variance=(0.0,) * 8, ahead=10)
    plant = plant_of(asked.in_order())
    tables = supply_state(plant, opening_of(plant)).tables
    # The list ends on its third day; one late day more is a tenth of a miss.
    np.testing.assert_allclose(tables[0].cost[:, 0], [0, 0, 0, 10, 1, 1, 1, 1])
    np.testing.assert_allclose(tables[0].cost[:, 10], 0)
