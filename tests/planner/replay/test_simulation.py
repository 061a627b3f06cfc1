"""The day loop on a week that is followed by hand: a kilogram winds in 20 minutes, a start-up takes 10.

What is wound by 22:00 dries overnight and is on the shelf at 10:00 of the next day; parcels leave at 15:00.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta

import pytest

from stockplan.planner.core.facts import HopperFacts, OvenFacts, PlanFacts
from stockplan.planner.core.floor import TimedRun
from stockplan.planner.core.replay.morning import MorningForecast
from stockplan.planner.core.replay.policies import MakeListPolicy, PlainIndexPolicy, Policy
from stockplan.planner.core.replay.records import Count, DayRecord
from stockplan.planner.core.replay.reorder_point import ReorderPointPolicy
from stockplan.planner.core.replay.simulation import replay
from tests.planner.replay.small_stretch import FIRST, HORIZON, at, forecasts, ordered, stretch
from tests.planner.small_facts import facts

LIST = MakeListPolicy()
RULE = ReorderPointPolicy(safety_factor=1.0, lot_days=3.0)


@pytest.mark.parametrize("policy", [LIST, PlainIndexPolicy(), RULE])
def test_ordered_spools_are_made_and_ship_on_their_day(policy: Policy) -> None:
    records = replay(stretch(ordered((1, "A-1000", 3))), policy, forecast_of=forecasts())
    assert [r.orders for r in records] == [Count(), Count(1, 1), Count(), Count(), Count()]
    assert records[0].use.winding_min == 10 + 3 * 20
    assert sum(r.use.runs for r in records) == 1


def test_order_that_the_line_cannot_make_in_time_is_missed_and_late_until_it_ships() -> None:
    # Nothing that is wound on Monday is on the shelf on Monday.
    records = replay(stretch(ordered((0, "A-1000", 3))), LIST, forecast_of=forecasts())
    assert (records[0].orders, records[0].late_orders, records[1].late_orders) == (Count(1, 0), 1, 0)


def test_stock_is_valued_after_the_pick_up() -> None:
    opened = stretch(ordered((0, "A-1000", 2)), opening={"A-1000": 5, "B-1000": 1})
    first = replay(opened, LIST, forecast_of=forecasts())[0]
    assert (first.stock_units, first.stock_value) == (4, 3 * 10.0 + 20.0)


def test_line_time_is_shared_between_winding_changeover_and_idle() -> None:
    orders = ordered((1, "A-1000", 3), (1, "B-1000", 3))
    use = replay(stretch(orders), LIST, forecast_of=forecasts())[0].use
    # Sixteen hours of shift; two runs of 70 minutes; a change of colour of 12 minutes purges 12/60 x 6 kg.
    assert (use.available_min, use.winding_min, use.changeover_min) == (960, 140, 12)
    assert (use.idle_min, use.purge_kg) == (808, pytest.approx(1.2))


def test_run_that_is_under_way_in_the_morning_is_not_made_again() -> None:
    # 50 spools take 1010 minutes, more than the 960 of a day: they end on Tuesday and ship on Wednesday.
    records = replay(stretch(ordered((2, "A-1000", 50))), LIST, forecast_of=forecasts())
    assert sum(r.use.runs for r in records) == 1
    assert records[2].orders == Count(1, 1)


def test_line_holds_what_it_ran_the_day_before() -> None:
    orders = ordered((1, "A-1000", 3), (2, "B-1000", 3), known={1: at(1, 5)})
    records = replay(stretch(orders), LIST, forecast_of=forecasts())
    assert [r.use.changeover_min for r in records] == [0, 12, 0, 0, 0]


def test_run_that_begins_after_the_next_morning_is_left_to_the_next_list() -> None:
    orders = ordered((3, "A-1000", 50), (3, "B-1000", 40))
    records = replay(stretch(orders), LIST, forecast_of=forecasts())
    assert [r.use.runs for r in records] == [1, 1, 0, 0, 0]


def test_spools_that_find_no_oven_place_wait_for_the_next_night() -> None:
    narrow = facts(days=HORIZON, ovens=(OvenFacts("O1", places=2.0, temperature_c=50),))
    records = replay(stretch(ordered((1, "A-1000", 3)), plant=narrow), LIST, forecast_of=forecasts())
    assert (records[1].orders, records[1].late_orders, records[2].late_orders) == (Count(1, 0), 1, 0)


def test_every_day_is_told_to_the_progress() -> None:
    seen: list[date] = []
    replay(stretch(ordered()), LIST, forecast_of=forecasts(), tick=seen.append)
    assert seen == [FIRST + timedelta(days=n) for n in range(5)]


def test_replay_is_refused_when_no_parcels_leave() -> None:
    weekend = stretch(ordered(), first_day=date(2027, 3, 6), last_day=date(2027, 3, 7))
    with pytest.raises(ValueError, match="no ship day from 2027-03-06"):
        replay(weekend, LIST, forecast_of=forecasts())


def _until_thursday(known: datetime, *, policy: Policy) -> tuple[DayRecord, ...]:
    """Records of Monday to Wednesday with a large order for Friday that is known from an instant on."""
    orders = ordered((1, "A-1000", 3), (4, "B-1000", 40), known={1: known})
    return replay(stretch(orders), policy, forecast_of=forecasts(daily=1.0, order_up_to=6))[:3]


@pytest.mark.parametrize("policy", [LIST, RULE])
def test_spike_changes_nothing_before_it_was_known(policy: Policy) -> None:
    never = replay(stretch(ordered((1, "A-1000", 3))), policy, forecast_of=forecasts(daily=1.0, order_up_to=6))[:3]
    assert _until_thursday(at(3, 5), policy=policy) == never
    assert _until_thursday(at(1, 5), policy=policy) != never


def test_late_posting_is_served_when_it_is_known_and_counts_on_its_due_day() -> None:
    opened = stretch(ordered((0, "A-1000", 2), known={0: at(1, 9)}), opening={"A-1000": 5})
    records = replay(opened, LIST, forecast_of=forecasts())
    # On Monday nobody knew of it; from Tuesday on it is gone from the shelf.
    assert [r.stock_units for r in records[:2]] == [5, 3]


@pytest.mark.parametrize("policy", [LIST, PlainIndexPolicy(), RULE])
def test_spools_are_neither_lost_nor_made_from_nothing(policy: Policy) -> None:
    orders = ordered(*((day, sku, 2 + day) for day in range(5) for sku in ("A-1000", "B-1000")))
    opening = {"A-1000": 9, "B-1000": 9}
    records = replay(stretch(orders, opening=opening), policy, forecast_of=forecasts(daily=4.0, order_up_to=15))
    wound_min = sum(r.use.winding_min - 10 * r.use.runs for r in records[:3])
    assert not any(r.late_orders for r in records[:4])
    shipped = sum(r.units.kept for r in records[:4])
    # All that was wound up to Wednesday evening is on the shelf or shipped by Thursday's pick-up.
    assert 18 + wound_min / 20 == pytest.approx(records[3].stock_units + shipped, abs=1e-9)


def test_hopper_keeps_what_the_run_of_the_day_before_dried() -> None:
    hopper = HopperFacts("H1", 400.0, is_continuous=True, clean_min=15.0, holds_material=None, dried_since=None)
    drying = facts(days=HORIZON, hoppers=(hopper,))
    # Resin of the first run dries from 06:00 to 10:00; on Tuesday it is dry, and 45 spools, 910 min, end by 22:00.
    orders = ordered((1, "A-1000", 3), (2, "A-1000", 45), known={1: at(0, 12)})
    records = replay(stretch(orders, plant=drying), LIST, forecast_of=forecasts())
    assert [r.orders.kept for r in records[1:3]] == [1, 1]


def test_list_of_a_morning_knows_what_the_one_before_has_left_to_begin() -> None:
    seen: list[list[tuple[str, int]]] = []

    def watched(plant_facts: PlanFacts, morning: MorningForecast) -> Sequence[TimedRun]:
        before = plant_facts.listed
        seen.append([] if before is None else [(run.filament, run.total) for run in before.runs])
        return LIST(plant_facts, morning)

    # Fifty spools of either take the line more than a day: the second run begins on Tuesday.
    orders = ordered((3, "A-1000", 50), (3, "B-1000", 40))
    replay(stretch(orders, list_days=3), watched, forecast_of=forecasts())
    assert seen[:3] == [[], [("B", 40)], []]
