"""What each run of a list is worth: marginal gains in rank order, which add up to the list's total."""

from __future__ import annotations

import heapq
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stockplan.planner.core.finishing import Arrival
from stockplan.planner.core.floor import TimedRun
from stockplan.planner.core.plant import Plant
from stockplan.planner.core.shortage import Floats, Ints, MissTable


@dataclass(frozen=True)
class RankedRun:
    """A run with the misses that it avoids, given the runs ranked before it; by SKU of its filament."""

    rank: int
    run: TimedRun
    avoided: tuple[float, ...]

    @property
    def misses_avoided(self) -> float:
        """Misses avoided by all sizes."""
        return sum(self.avoided)

    @property
    def worth_per_hour(self) -> float:
        """Misses avoided per line hour, changeover included."""
        return self.misses_avoided / line_hours(self.run)


def line_hours(run: TimedRun) -> float:
    """Return changeover, start-up and winding in hours."""
    return (run.timing.changeover_min + run.timing.run_min) / 60


def day_weights(plant: Plant) -> Floats:
    """Return what a miss on each ship day counts in the list's totals.

    1 up to the last day of the list; after it less and less, 1/e after `look_ahead_days`, because later lists can
    still avoid it.
    """
    inside = sum(day <= plant.facts.last_day for day in plant.facts.days)
    beyond = np.maximum(np.arange(len(plant.facts.days)) - inside + 1, 0)
    return np.asarray(np.exp(-beyond / plant.facts.parameters.look_ahead_days))


def all_misses(tables: Sequence[MissTable], supply: Ints, *, weights: Floats) -> Floats:
    """Return the misses of each SKU, (S,), with a supply (S, T): the one function behind every total."""
    return np.array([table.total(row, weights=weights) for table, row in zip(tables, supply, strict=True)])


def ranked(
    plant: Plant, tables: Sequence[MissTable], supply: Ints, runs: Sequence[TimedRun], *, weights: Floats
) -> tuple[RankedRun, ...]:
    """Rank runs by misses avoided per line hour, each given those ranked before it.

    Runs of different filaments do not touch each other's misses, so each filament's runs are ordered by themselves
    (the most worth first, then the most worth given that one) and the filaments are merged.
    """
    queues = [
        _by_worth(tables, supply, group, plant.skus_of[filament], weights)
        for filament, group in sorted(_by_filament(runs).items())
    ]
    heap = [(-queue[0].worth_per_hour, at, 0) for at, queue in enumerate(queues)]
    heapq.heapify(heap)
    order: list[RankedRun] = []
    while heap:
        _, at, place = heapq.heappop(heap)
        found = queues[at][place]
        order.append(RankedRun(len(order) + 1, found.run, found.avoided))
        if place + 1 < len(queues[at]):
            heapq.heappush(heap, (-queues[at][place + 1].worth_per_hour, at, place + 1))
    return tuple(order)


def _by_filament(runs: Sequence[TimedRun]) -> dict[str, list[TimedRun]]:
    groups: defaultdict[str, list[TimedRun]] = defaultdict(list)
    for run in sorted(runs, key=lambda r: (r.timing.start_min, r.line)):
        groups[run.lot.filament].append(run)
    return groups


def _by_worth(
    tables: Sequence[MissTable], supply: Ints, runs: list[TimedRun], skus: tuple[int, ...], weights: Floats
) -> list[RankedRun]:
    now, left, order = {s: supply[s].copy() for s in skus}, list(runs), []
    while left:
        options = [RankedRun(0, run, _avoided(tables, now, run, skus, weights)) for run in left]
        best = max(options, key=lambda option: option.worth_per_hour)
        order.append(best)
        left.remove(best.run)
        for s, arrivals in zip(skus, best.run.arrivals, strict=True):
            now[s] = with_arrivals(now[s], arrivals)
    return order


def _avoided(
    tables: Sequence[MissTable], now: dict[int, Ints], run: TimedRun, skus: tuple[int, ...], weights: Floats
) -> tuple[float, ...]:
    return tuple(
        tables[s].total(now[s], weights=weights) - tables[s].total(with_arrivals(now[s], arrivals), weights=weights)
        for s, arrivals in zip(skus, run.arrivals, strict=True)
    )


def with_arrivals(supply: Ints, arrivals: Sequence[Arrival]) -> Ints:
    """Return the supply (T,) of an SKU with what arrives besides."""
    more = supply.copy()
    for arrival in arrivals:
        more[arrival.day :] += arrival.spools
    return more
