"""What the list says of itself, on a plant that is busy: totals, ranks, reasons, times."""

from __future__ import annotations

import itertools
import math
import re
from dataclasses import replace

import numpy as np
import pytest

from stockplan.planner.core.facts import PlanFacts
from stockplan.planner.core.planning import make_plan
from stockplan.planner.core.shortage import total_misses
from tests.planner.small_facts import calendar, facts, filament, line, material, sku


@pytest.fixture
def busy_facts() -> PlanFacts:
    """Eight filaments of two materials and two sizes on two lines that cannot make all at once, 20 ship days known."""
    codes = tuple("ABCDEFGH")
    grades = dict(zip(codes, ["PLA", "PETG"] * 4, strict=True))
    small = {"net_g": 250, "target_kg": 0.25}
    skus = [sku(c, daily=2.0 + i, days=20, shelf=5 * i % 17, order_up_to=40 + 5 * i) for i, c in enumerate(codes)]
    skus += [sku(c, daily=1.0, days=20, size="250", order_up_to=15, late=i % 3, **small) for i, c in enumerate(codes)]
    lines = (line("L1", makes=codes, holds="C"), line("L2", makes=codes[2:]))
    base = facts(codes=codes, days=20, list_days=5)
    return replace(
        base,
        skus=tuple(skus),
        filaments=tuple(filament(c, material_code=grades[c], lab_l=10.0 * i) for i, c in enumerate(codes)),
        materials=(material("PLA"), material("PETG")),
        lines=lines,
        calendar=calendar(lines=("L1", "L2")),
    )


def test_worths_add_up_to_the_total_of_the_list(busy_facts: PlanFacts) -> None:
    plan = make_plan(busy_facts)
    total = sum(run.ranked.misses_avoided for run in plan.runs)
    assert len(plan.runs) > 4
    assert total == pytest.approx(plan.misses_without - plan.misses_with)


def test_totals_equal_the_misses_recomputed_from_the_runs(busy_facts: PlanFacts) -> None:
    plan = make_plan(busy_facts)
    weights = np.array([1.0] * 5 + [math.exp(-day / 6) for day in range(1, 16)])
    found = total_misses(plan.state.supply, plan.opening.demand, day_weight=weights, late_day_weight=0.1)
    assert plan.misses_with == pytest.approx(float(found.sum()), abs=1e-5)


def test_ranks_fall_by_worth_of_each_filaments_first_run(busy_facts: PlanFacts) -> None:
    plan = make_plan(busy_facts)
    firsts = {run.ranked.run.lot.filament: run.ranked.worth_per_hour for run in reversed(plan.runs)}
    worths = [firsts[code] for code in dict.fromkeys(run.ranked.run.lot.filament for run in plan.runs)]
    assert worths == sorted(worths, reverse=True)


def test_reason_holds_when_recomputed(busy_facts: PlanFacts) -> None:
    plan = make_plan(busy_facts)
    first = plan.runs[0]
    spools, avoided, hours, per_hour = map(
        float,
        re.search(
            r"; (\d+) spools .* avoid ([\d.]+) misses in ([\d.]+) line hours .*: ([\d.]+) an", str(first.reason)
        ).groups(),  # type: ignore[union-attr]
    )
    timing = first.ranked.run.timing
    assert spools == sum(first.ranked.run.lot.spools)
    assert hours == pytest.approx((timing.changeover_min + timing.run_min) / 60, abs=0.005)
    assert per_hour == pytest.approx(avoided / hours, rel=0.01)


def test_reason_names_what_is_lacking_after_the_runs_of_a_better_rank(busy_facts: PlanFacts) -> None:
    plan = make_plan(busy_facts)
    later = next(run for run in plan.runs if run.after_rank is not None)
    filament, supply = later.ranked.run.lot.filament, plan.opening.supply.copy()
    before = [r.ranked.run for r in plan.runs[: later.ranked.rank - 1] if r.ranked.run.lot.filament == filament]
    for s, arrivals in (
        (s, a) for run in before for s, a in zip(plan.plant.skus_of[filament], run.arrivals, strict=True)
    ):
        for arrival in arrivals:
            supply[s, arrival.day :] += arrival.spools
    short = [
        day
        for s in plan.plant.skus_of[filament]
        for day, mean in enumerate(plan.plant.facts.skus[s].mean)
        if plan.plant.facts.skus[s].late + mean > supply[s, day]
    ]
    assert later.out_on == min(short)
    assert str(later.reason).startswith(f"After rank {later.after_rank}, the shelf is expected to")
    assert later.after_rank == max(r.ranked.rank for r in plan.runs if r.ranked.run in before)


def test_runs_on_a_line_never_overlap(busy_facts: PlanFacts) -> None:
    runs = sorted(make_plan(busy_facts).runs, key=lambda r: (r.ranked.run.line, r.ranked.run.timing.start_min))
    pairs = [(a, b) for a, b in itertools.pairwise(runs) if a.ranked.run.line == b.ranked.run.line]
    assert len(pairs) > 3
    assert all(a.ranked.run.timing.end_min <= b.ranked.run.timing.start_min for a, b in pairs)
