"""What supply costs on each ship day: misses as the list counts them, and as a search sees them that plans again.

A list is made anew every morning. A search that forgets it insures every day against all demand until then, makes
lots too large for days on which later lists could still act, and leaves the lines to themselves after its last day.
So it is shown three things more than misses, all in the worth of a line minute:

- a day that is more than `REACT_DAYS` ahead is at risk from the demand of the last `REACT_DAYS` before it alone; what
  is sold until then is taken at its mean, because later lists will see it and answer,
- a spool in stock costs its winding minutes times a rate for each ship day, the rate at which the run intervals of
  the outlook are the cheapest ones: kappa with c / R = kappa w R / 2 (changeover c, winding w a day, interval R),
- a spool left at the end is worth the minutes that it saves later lists: its winding, and its part of a changeover.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from stockplan.planner.core.outlook import outlook_of, winding_min_per_day
from stockplan.planner.core.plant import Plant
from stockplan.planner.core.ranking import day_weights
from stockplan.planner.core.run_intervals import LEAST_WINDING_MIN
from stockplan.planner.core.shortage import Floats, Ints, shortage_by_count
from stockplan.planner.core.supply import SupplyState

# From a list's morning until a run that it could begin tomorrow is surely on the shelf.
REACT_DAYS = 4
# Misses that a minute of full lines is worth to later lists, as a share of the spools that demand asks of it.
MINUTE_SHARE = 0.07
# Lines that wind for so much of their time count as full. Below, a minute is worth less: lists that spared it made
# lots late for the sake of changeovers that the lines had time for. Share, threshold and power are from replays of
# the simulated plant at loads of .65 to .95 (README), not from a model.
FULL_SHARE = 0.85
LOAD_POWER = 10
# Of its order-up-to level, which covers a full run interval, a search fills an SKU to so much: it can come back sooner.
LEVEL_SHARE = 0.8
# What a spool above that costs for each ship day, in misses: more than it could avoid.
ABOVE_LEVEL = 0.05


@dataclass(frozen=True)
class Prices:
    """What lines and stock are worth.

    Parameters
    ----------
    minute
        Misses that a line minute is worth.
    stock_day
        What a winding minute in stock costs for each ship day, in line minutes: kappa.
    run_days
        Run interval of each filament, ship days.
    """

    minute: float
    stock_day: float
    run_days: Mapping[str, float]


def prices_of(plant: Plant) -> Prices:
    """Return the prices at which the outlook's run intervals are the cheapest."""
    outlook = outlook_of(plant)
    between_runs = sum(days * winding_min_per_day(plant, code) for code, days in outlook.run_days.items())
    spools = sum(sku.daily for sku in plant.facts.skus)
    share = MINUTE_SHARE * min(outlook.load.winding_share / FULL_SHARE, 1.0) ** LOAD_POWER
    return Prices(
        minute=share * spools / max(outlook.load.available_min, 1.0),
        stock_day=2 * outlook.load.changeover_min / max(between_runs, LEAST_WINDING_MIN),
        run_days=outlook.run_days,
    )


def misses_by_supply(plant: Plant, state: SupplyState, sku: int, *, most: int) -> Floats:
    """Return the weighted misses of each day with 0..most further spools by it, (most + 1, T)."""
    table, further = state.tables[sku], np.arange(most + 1)[:, None]
    days = np.arange(len(plant.facts.days))[None, :]
    return np.asarray(
        table.cost[days, table.column(state.supply[sku][None, :] + further)] * day_weights(plant)[None, :]
    )


def costs_by_supply(plant: Plant, state: SupplyState, sku: int, *, most: int, prices: Prices) -> Floats:
    """Return what a search pays on each day with 0..most further spools by it, (most + 1, T)."""
    facts, further = plant.facts.skus[sku], np.arange(most + 1)[:, None]
    level = LEVEL_SHARE * (facts.order_up_to - facts.ahead) + facts.ahead
    wanted = np.array([state.most(sku, minute) for minute in plant.pick_ups]) - (facts.order_up_to - level)
    expected = facts.late + np.array(facts.due) + np.array(facts.mean)
    left = state.supply[sku][None, :] + further - expected[None, :]
    spool_min = _least_spool_min(plant, sku)
    cost = (
        _misses(plant, state, sku, most=most)
        + np.maximum(further - np.maximum(wanted, 0.0)[None, :], 0.0) * ABOVE_LEVEL
    )
    cost += prices.minute * prices.stock_day * spool_min * np.maximum(left, 0.0)
    saved = 1 + prices.stock_day * prices.run_days.get(facts.filament, 0.0) / 2
    at_end = float(state.all_supply[sku]) + further[:, 0] - expected[-1]
    cost[:, -1] -= prices.minute * spool_min * saved * np.minimum(at_end, level)
    return np.asarray(cost)


def _least_spool_min(plant: Plant, sku: int) -> float:
    filament = plant.facts.skus[sku].filament
    at = plant.skus_of[filament].index(sku)
    return min((plant.spool_minutes(line, filament)[at] for line in plant.lines_for(filament)), default=0.0)


def _misses(plant: Plant, state: SupplyState, sku: int, *, most: int) -> Floats:
    """Misses and late unit-days of each day; after `REACT_DAYS` with the demand before its last days at its mean."""
    near = min(REACT_DAYS, len(plant.facts.days))
    table, further = state.tables[sku], np.arange(most + 1)
    supply = state.supply[sku][None, :] + further[:, None]
    days = np.arange(len(plant.facts.days))[None, :]
    cost = table.cost[days[:, :near], table.column(supply[:, :near])]
    if near == days.shape[1]:
        return np.asarray(cost)
    return np.hstack([cost, _misses_later(plant, sku, supply[:, near:])])


def _misses_later(plant: Plant, sku: int, supply: Ints) -> Floats:
    facts = plant.facts.skus[sku]
    mean, due = np.array(facts.mean), facts.late + np.array(facts.due)
    ratio = facts.variance[REACT_DAYS - 1] / mean[REACT_DAYS - 1] if mean[REACT_DAYS - 1] > 0 else 1.0
    sold = mean[:-REACT_DAYS]
    now, before = (
        _shortage(supply - certain[None, :] - sold[None, :], at_risk - sold, ratio)
        for certain, at_risk in (
            (due[REACT_DAYS:], mean[REACT_DAYS:]),
            (due[REACT_DAYS - 1 : -1], mean[REACT_DAYS - 1 : -1]),
        )
    )
    return now - before + plant.facts.parameters.late_day_weight * before


def _shortage(x: Floats, mean: Floats, ratio: float) -> Floats:
    """E[(D - x)+] for columns of x, one day each; between whole spools in proportion."""
    whole = np.floor(x).astype(np.int64)
    first = whole[0]
    rows = first[:, None] + np.arange(int((whole[-1] - first).max()) + 2)[None, :]
    table = shortage_by_count(rows, mean=mean, variance=mean * max(ratio, 1.0)).T
    at = whole - first[None, :]
    part = x - whole
    days = np.arange(x.shape[1])[None, :]
    return np.asarray(table[at, days] * (1 - part) + table[at + 1, days] * part)
