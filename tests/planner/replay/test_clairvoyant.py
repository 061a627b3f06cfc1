"""A list that knows what will be ordered makes exactly that, in time."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from stockplan.planner.core.facts import PlanFacts
from stockplan.planner.core.floor import TimedRun
from stockplan.planner.core.replay.clairvoyant import ClairvoyantPolicy
from stockplan.planner.core.replay.morning import MorningForecast
from stockplan.planner.core.replay.policies import MakeListPolicy
from stockplan.planner.core.replay.records import ReplayTotals
from stockplan.planner.core.replay.simulation import replay
from tests.planner.replay.small_stretch import LAST, at, forecasts, ordered, stretch


def test_surprise_is_made_in_time_and_nothing_else() -> None:
    # Four spools are ordered on Wednesday morning for Wednesday: only who knew on Monday has them.
    orders = ordered((2, "A-1000", 4), known={0: at(2, 7)})
    blind = replay(stretch(orders), MakeListPolicy(), forecast_of=forecasts())
    knowing = replay(stretch(orders), ClairvoyantPolicy(orders, MakeListPolicy()), forecast_of=forecasts())
    assert (blind[2].orders.kept, knowing[2].orders.kept) == (0, 1)
    assert sum(r.use.winding_min for r in knowing) == 10 + 4 * 20
    assert knowing[4].stock_units == 0


def test_forecast_is_not_looked_at() -> None:
    orders = ordered((2, "A-1000", 4), known={0: at(2, 7)})
    policy = ClairvoyantPolicy(orders, MakeListPolicy())
    high = replay(stretch(orders), policy, forecast_of=forecasts(daily=9.0, order_up_to=40))
    assert high == replay(stretch(orders), policy, forecast_of=forecasts())


def test_known_orders_are_not_counted_twice() -> None:
    orders = ordered((1, "A-1000", 3), (2, "A-1000", 4), known={1: at(2, 7)})
    records = replay(stretch(orders), ClairvoyantPolicy(orders, MakeListPolicy()), forecast_of=forecasts())
    total = ReplayTotals.of(records)
    assert (total.orders.due, total.orders.kept, records[4].stock_units) == (2, 2, 0)


def test_nothing_is_built_ahead_of_a_forecast_that_is_not_looked_at() -> None:
    orders, shown = ordered((2, "A-1000", 4)), []

    def within(facts: PlanFacts, _morning: MorningForecast) -> tuple[TimedRun, ...]:
        shown.extend(facts.skus)
        return ()

    replay(stretch(orders), ClairvoyantPolicy(orders, within), forecast_of=forecasts(order_up_to=40, ahead=10))
    assert {sku.ahead for sku in shown} == {0}


def test_searched_list_that_knows_all_orders_misses_none_that_the_line_can_make() -> None:
    """Each level was lowered by orders of days that the search does not look at: it wanted nothing until too late."""
    days = [day for day in range(32) if day % 7 < 5]
    orders = ordered(*((day, sku, 9) for day in days for sku in ("A-1000", "B-1000")))
    weeks = stretch(orders, list_days=4, opening={"A-1000": 18, "B-1000": 18}, last_day=LAST + timedelta(days=7))
    searched = replace(weeks.plant, parameters=replace(weeks.plant.parameters, search_moves=200))
    records = replay(
        replace(weeks, plant=searched), ClairvoyantPolicy(orders, MakeListPolicy()), forecast_of=forecasts()
    )
    assert [day.orders.kept for day in records] == [2] * 10
