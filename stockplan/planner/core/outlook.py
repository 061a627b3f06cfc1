"""When each shelf would run out, and whether the lines can keep the promise."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import time
from statistics import median

import numpy as np

from stockplan.planner.core.plant import Plant
from stockplan.planner.core.run_intervals import (
    LEAST_WINDING_MIN,
    LONGEST_INTERVAL_DAYS,
    LineLoad,
    line_load,
    run_interval_days,
)
from stockplan.planner.core.shortage import Floats, Ints

QUEUE_DAYS = 1.0
LEAD_SAMPLE_DAYS = 10
NOON = time(12)


@dataclass(frozen=True)
class Need:
    """What a filament lacks with a given supply.

    `out_on` is the index of the first ship day on which some SKU is expected to be short, None if none is on the
    days looked at; `late_spools` are late and no supply of these days is for them. `is_below` says that some SKU has
    less than its order-up-to level, open orders taken off; `ahead_spools` of what lacks are to be built ahead of weeks
    that the lines cannot follow.
    """

    out_on: int | None
    late_spools: int
    is_below: bool
    ahead_spools: int


@dataclass(frozen=True)
class Outlook:
    """What the list assumes of the weeks around it."""

    run_days: Mapping[str, float]
    load: LineLoad
    hours_short_per_week: float


def outlook_of(plant: Plant) -> Outlook:
    """Return run intervals and line load, for filaments that some line can make.

    A filament's changeover is the median over its lines and over what they could hold of the same material; its
    winding is that of its fastest line.
    """
    codes = [f.code for f in plant.facts.filaments if plant.lines_for(f.code)]
    changeover = np.array([_changeover_min(plant, code) for code in codes])
    winding = np.array([winding_min_per_day(plant, code) for code in codes])
    available = available_min_per_day(plant)
    days = run_interval_days(
        changeover_min=changeover,
        winding_min=winding,
        available_min=available,
        shortest_days=_shortest_days(plant, winding),
    )
    load = line_load(changeover_min=changeover, winding_min=winding, interval_days=days, available_min=available)
    per_week = sum(rule.cut_off is not None for rule in plant.facts.calendar.day_rules.values())
    return Outlook(
        run_days={code: float(d) for code, d in zip(codes, days, strict=True)},
        load=load,
        hours_short_per_week=load.short_h_per_week(ship_days_per_week=per_week),
    )


def lead_days(plant: Plant, filament: str) -> float:
    """Return L in ship days: a day's wait for a line, then from winding to the shelf.

    The way to the shelf is averaged over spools that are wound at noon of each of the coming ship days.
    """
    facts, material = plant.facts, plant.material_of[filament]
    waits = []
    for at, day in enumerate(facts.days[:LEAD_SAMPLE_DAYS]):
        shelf_at = facts.calendar.shelf_at(facts.calendar.at(day, NOON), dry_h=material.spool_dry_h)
        arrives = facts.calendar.first_ship_day(shelf_at)
        waits.append(sum(day < later <= arrives for later in facts.days[at:]))
    return QUEUE_DAYS + float(np.mean(waits))


def available_min_per_day(plant: Plant) -> float:
    """Return the line minutes of an average ship day, over all lines, within the days of the list."""
    inside = max(sum(day <= plant.facts.last_day for day in plant.facts.days), 1)
    return sum(spans.minutes(0, plant.end_min) for spans in plant.line_spans.values()) / inside


def need_of(plant: Plant, supply: Ints, filament: str) -> Need:
    """Return what a filament lacks with a supply (S, T)."""
    skus = plant.skus_of[filament]
    days = [day for s in skus if (day := short_day(plant, supply, s)) is not None]
    late = sum(max(plant.facts.skus[s].late - int(supply[s, -1]), 0) for s in skus)
    rows = [(plant.facts.skus[s], int(supply[s, -1])) for s in skus]
    lacks = [(sku, sku.order_up_to - (there - sku.late - sku.due[-1])) for sku, there in rows]
    ahead = sum(min(sku.ahead, max(lack, 0)) for sku, lack in lacks)
    return Need(min(days, default=None), late, is_below=any(lack > 0 for _, lack in lacks), ahead_spools=ahead)


def short_day(plant: Plant, supply: Ints, sku: int) -> int | None:
    """Return the index of the first ship day on which expected demand is above the supply."""
    facts = plant.facts.skus[sku]
    expected = facts.late + np.array(facts.due) + np.array(facts.mean)
    short = np.flatnonzero(expected > supply[sku] + 1e-9)
    return int(short[0]) if len(short) else None


def winding_min_per_day(plant: Plant, filament: str) -> float:
    """Return the winding minutes that an average ship day's demand for a filament takes on its fastest line.

    Demand is what is open and due within the days looked at, and what is still to arrive.
    """
    each = [plant.spool_minutes(line, filament) for line in plant.lines_for(filament)]
    fastest = [min(minutes) for minutes in zip(*each, strict=True)]
    daily = [plant.facts.skus[s].daily for s in plant.skus_of[filament]]
    return float(sum(n * minutes for n, minutes in zip(daily, fastest, strict=True)))


def _shortest_days(plant: Plant, winding_min: Floats) -> Floats:
    """Return the ship days in which the demand of each filament fills the shortest run that is worth a start."""
    days = plant.facts.parameters.min_run_min / np.maximum(winding_min, LEAST_WINDING_MIN)
    return np.asarray(np.clip(days, 1.0, LONGEST_INTERVAL_DAYS))


def _changeover_min(plant: Plant, filament: str) -> float:
    """Return the usual changeover to a filament from another of its material (from any, if it has no other)."""
    found = []
    index, to = plant.changeovers.index, plant.changeovers.index[filament]
    for line in plant.lines_for(filament):
        others = [index[code] for code in plant.lines[line].rates if code != filament]
        same = [at for at in others if not plant.changeovers.is_material_change[at, to]]
        changes = np.ceil(plant.changeovers.minutes[line][same or others, to] - 1e-9)
        found.append(float(np.median(changes) if len(changes) else 0.0) + plant.lines[line].start_up_min)
    return float(median(found))
