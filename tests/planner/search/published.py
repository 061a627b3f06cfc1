"""Published instances as problems of the search: only instance and cost are translated, no plan is given."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np

from stockplan.planner.core.search.problem import SearchLine, SearchProblem

REFERENCE = Path(__file__).resolve().parents[3] / "fixtures" / "reference"
NEVER = 1e6
# Of the cyclic plan: several times what any unit could save in setup and holding.
NOT_MADE = 10.0
# Whole minutes of a basic period of the cyclic plan: fine enough that rounding up is below 0.01 %.
PERIOD_MIN = 20_000


def entries(words: str, *, file: str = "scheduling.json") -> list[dict[str, Any]]:
    """Return the entries whose name starts with these words; each carries its own source."""
    return [entry for entry in json.loads((REFERENCE / file).read_text()) if entry["name"].startswith(words)]


def round_trip(matrix: list[list[int]]) -> SearchProblem:
    """ATSP: one family a city, made once; the line holds city 0 at the start and goes back to it at the end."""
    cities = np.array(matrix, dtype=float)
    n = len(cities) - 1
    cost = np.zeros((n + 1, n + 1))
    cost[:n, :n], cost[n, :n], cost[:n, n] = cities[1:, 1:], cities[0, 1:], cities[1:, 0]
    line = SearchLine(np.zeros((n + 1, n), int), cost, np.zeros(n), np.zeros((1, 2), int))
    made_once = np.array([[NEVER], [0.0]])
    return SearchProblem([line], np.arange(n), [made_once] * n, np.zeros(n, int), np.zeros(n, int))


def weighted_tardiness(p: list[int], w: list[int], d: list[int]) -> SearchProblem:
    """1||sum wT: a day a minute; each minute after its due date costs a job its weight."""
    n, end = len(p), sum(p)
    minute = np.arange(end + 1)
    late = [
        np.vstack([np.where(minute >= due, weight, 0.0), np.zeros(end + 1)]) for weight, due in zip(w, d, strict=True)
    ]
    for table in late:
        table[0, end] = NEVER
    line = SearchLine(np.zeros((n + 1, n), int), np.zeros((n + 1, n + 1)), np.array(p, float), np.arange(end + 2)[None])
    return SearchProblem([line], np.arange(n), late, np.zeros(n, int), np.zeros(n, int))


def pigment(demand: list[list[int]], h: int, changeover: list[list[int]]) -> SearchProblem:
    """Discrete lot sizing, backwards in time: a deadline becomes a release, holding becomes waiting after it."""
    periods = len(demand[0])
    units = [(item, periods - 1 - t) for item, row in enumerate(demand) for t in range(periods) if row[t]]
    item, release = (np.array(column) for column in zip(*units, strict=True))
    n = len(units)
    cost = np.zeros((n + 1, n + 1))
    cost[:n, :n] = np.array(changeover, dtype=float).T[np.ix_(item, item)]
    waits = []
    for earliest in release:
        table = np.zeros((2, periods + 1))
        table[0, earliest + 1 : periods], table[0, periods] = h, NEVER / 500
        waits.append(table)
    line = SearchLine(np.zeros((n + 1, n), int), cost, np.ones(n), np.arange(periods + 2)[None])
    return SearchProblem([line], np.arange(n), waits, release, np.zeros(n, int))


def cyclic(instance: dict[str, list[float]], *, period_days: float, periods: int = 8) -> SearchProblem:
    """Economic lot scheduling in basic periods: a line is one period, a family is one item's demand of one period.

    What a line makes must be made within its period; units of one item behind each other share a setup. A unit made in
    period b for period t is held (t - b) mod periods periods and a half; the cycle repeats, so that what is made late
    in it serves the beginning of the next.
    """
    demand, setup, hold, made, days = (
        np.array(instance[key])
        for key in ("demand_per_day", "setup_cost", "holding_per_unit_day", "production_per_day", "setup_days")
    )
    cycle_days = periods * period_days
    item = np.repeat(np.arange(len(demand)), periods)
    n, share = len(item), demand / made
    is_other = np.append(item, -1)[:, None] != item[None, :]
    minutes = np.where(is_other, np.ceil(days / period_days * PERIOD_MIN).astype(int)[item], 0)
    cost = np.zeros((n + 1, n + 1))
    cost[:, :n] = np.where(is_other, (setup / cycle_days)[item], 0.0)
    tables = []
    for per_period in hold * (1 - share) * demand * period_days**2 / cycle_days:
        for t in range(periods):
            held = per_period * ((t - np.arange(periods)) % periods + 0.5)
            table = np.zeros((2, periods + 1))
            table[0, : periods - 1], table[1, periods] = np.diff(held), held[0]
            table[0, periods] = NOT_MADE - held[-1] + held[0]
            tables.append(table)
    unit = (share * PERIOD_MIN)[item]
    in_time = np.arange(PERIOD_MIN + 2) <= PERIOD_MIN
    lines = [SearchLine(minutes, cost, unit, np.where(in_time, b, periods + 1)[None]) for b in range(periods)]
    return SearchProblem(lines, np.arange(n), tables, np.zeros(n, int), np.zeros(n, int))
