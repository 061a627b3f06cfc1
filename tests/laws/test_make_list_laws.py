"""Laws of the make list over random plants."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from stockplan.planner.core.facts import (
    CommittedRun,
    HopperFacts,
    Instruction,
    InstructionKind,
    LineStop,
    OvenFacts,
    Pipeline,
    PlanFacts,
    SkuFacts,
    StoreItem,
)
from stockplan.planner.core.planning import Plan, make_plan
from stockplan.planner.core.shortage import Demand, cumulated, total_misses
from tests.planner.small_facts import MONDAY, calendar, facts, filament, line, material, sku

DAYS = 20
CODES = tuple("ABCDE")


@st.composite
def skus(draw: st.DrawFn, code: str) -> SkuFacts:
    daily = draw(st.floats(0, 6))
    mean = tuple(daily * t for t in range(1, DAYS + 1))
    spread = draw(st.floats(1, 4))
    steps = draw(st.lists(st.integers(0, 3), min_size=DAYS, max_size=DAYS))
    return sku(
        code,
        days=DAYS,
        mean=mean,
        variance=tuple(spread * m for m in mean),
        due=tuple(int(n) for n in np.cumsum(steps)),
        late=draw(st.integers(0, 4)),
        shelf=draw(st.integers(0, 30)),
        order_up_to=draw(st.integers(0, 60)),
    )


@st.composite
def plants(draw: st.DrawFn) -> PlanFacts:
    """One or two lines, five filaments of two materials, now and then too little resin."""
    codes = CODES[: draw(st.integers(1, 5))]
    grades = [draw(st.sampled_from(["PLA", "PETG"])) for _ in codes]
    names = ("L1", "L2")[: draw(st.integers(1, 2))]
    lines = tuple(line(name, makes=codes, holds=draw(st.sampled_from([None, *codes]))) for name in names)
    resin = StoreItem("RESIN-PLA", "PLA resin", "kg", draw(st.sampled_from([0.0, 25.0, 1e6])), 3)
    return facts(
        codes=codes,
        days=DAYS,
        list_days=draw(st.integers(1, 5)),
        skus=tuple(draw(skus(code)) for code in codes),
        filaments=tuple(
            filament(c, material_code=g, lab_l=20.0 * i) for i, (c, g) in enumerate(zip(codes, grades, strict=True))
        ),
        materials=(material("PLA"), material("PETG")),
        lines=lines,
        calendar=calendar(lines=names),
        store=(resin,),
    )


@st.composite
def full_plants(draw: st.DrawFn) -> PlanFacts:
    """A plant with two of everything that a list reads besides: hoppers, ovens, wound spools, released runs, stops."""
    plant = draw(plants())
    skus = [draw(st.sampled_from(plant.skus)) for _ in range(2)]
    hours = [draw(st.integers(1, 60)) for _ in range(2)]
    return replace(
        plant,
        hoppers=tuple(HopperFacts(code, 80.0, False, 10, None, None) for code in ("H1", "H2")),
        ovens=(OvenFacts("O1", 30.0, 50), OvenFacts("O2", 20.0, 48)),
        pipeline=tuple(Pipeline(s.code, 3, MONDAY + timedelta(hours=h)) for s, h in zip(skus, hours, strict=True)),
        committed=tuple(
            CommittedRun(f"R{n}", s.filament, "L1", False, MONDAY, MONDAY + timedelta(hours=h), None, {s.code: 2})
            for n, (s, h) in enumerate(zip(skus, hours, strict=True))
        ),
        stops=tuple(LineStop("L1", MONDAY + timedelta(hours=h), MONDAY + timedelta(hours=h + 3)) for h in hours),
        store=(*plant.store, StoreItem("SPOOL", "empty spool", "pieces", draw(st.integers(0, 60)), 3)),
        instructions=(
            Instruction(InstructionKind.PIN, skus[0].filament),
            Instruction(InstructionKind.RESIZE, skus[1].filament, sku=skus[1].code, spools=4),
        ),
    )


def _made(plan: Plan, code: str) -> int:
    return sum(sum(run.ranked.run.lot.spools) for run in plan.runs if run.ranked.run.lot.filament == code)


@given(plant=plants())
@hypothesis_settings(max_examples=40)
def test_late_order_never_drops_off_the_list(plant: PlanFacts) -> None:
    plan = make_plan(plant)
    blocked = {run.lot.filament for run in plan.blocked}
    uncovered = [s for s in plant.skus if s.late > s.shelf and s.filament not in blocked]
    short = [s.code for s in uncovered if _made(plan, s.filament) == 0]
    assert short == []


ROWS = ("skus", "filaments", "materials", "lines", "hoppers", "ovens")
ROWS += ("pipeline", "committed", "stops", "store", "instructions")


@given(plant=full_plants(), seed=st.integers(0, 999))
@hypothesis_settings(max_examples=25)
def test_order_of_the_facts_does_not_matter(plant: PlanFacts, seed: int) -> None:
    rng = np.random.default_rng(seed)
    rows = {name: getattr(plant, name) for name in ROWS}
    shuffled = replace(plant, **{n: tuple(held[i] for i in rng.permutation(len(held))) for n, held in rows.items()})
    assert repr(make_plan(shuffled).runs) == repr(make_plan(plant).runs)


@given(plant=plants())
@hypothesis_settings(max_examples=20)
def test_equal_facts_give_an_equal_list(plant: PlanFacts) -> None:
    first, second = make_plan(plant), make_plan(plant)
    assert repr((first.runs, first.blocked, first.left_out)) == repr((second.runs, second.blocked, second.left_out))


@given(plant=plants())
@hypothesis_settings(max_examples=40)
def test_worths_are_never_negative_and_add_up_to_the_total(plant: PlanFacts) -> None:
    plan = make_plan(plant)
    worths = [run.ranked.misses_avoided for run in plan.runs]
    assert min(worths, default=0.0) >= -1e-9
    assert sum(worths) == pytest.approx(plan.misses_without - plan.misses_with, abs=1e-6)


@given(plant=plants(), more=st.integers(1, 20))
@hypothesis_settings(max_examples=30)
def test_more_stock_never_raises_the_misses_of_a_list_beyond_its_gap(plant: PlanFacts, more: int) -> None:
    richer = replace(plant, skus=tuple(replace(s, shelf=s.shelf + more) for s in plant.skus))
    assert make_plan(richer).least_misses <= make_plan(plant).misses_with + 1e-6


@given(plant=plants())
@hypothesis_settings(max_examples=30)
def test_line_taken_away_never_improves_a_list_beyond_the_gap(plant: PlanFacts) -> None:
    fewer = replace(plant, lines=plant.lines[:-1])
    assert make_plan(plant).least_misses <= make_plan(fewer).misses_with + 1e-6


@given(plant=plants())
@hypothesis_settings(max_examples=30)
def test_every_filament_is_made_blocked_or_explained_once(plant: PlanFacts) -> None:
    plan = make_plan(plant)
    made = {run.ranked.run.lot.filament for run in plan.runs}
    others = [run.lot.filament for run in plan.blocked] + [left.filament for left in plan.left_out]
    assert sorted([*made, *others]) == sorted(f.code for f in plant.filaments)


@given(plant=plants())
@hypothesis_settings(max_examples=30)
def test_no_run_takes_more_resin_than_the_store_holds(plant: PlanFacts) -> None:
    plan = make_plan(plant)
    used = [
        plan.plant.masses(r.line, r.timing.changeover_from, r.lot.filament, r.lot.spools).resin_kg
        for r in (run.ranked.run for run in plan.runs)
        if plan.plant.material_of[r.lot.filament].code == "PLA"
    ]
    assert sum(used) <= plant.store[0].on_hand + 1e-6


@st.composite
def demands(draw: st.DrawFn) -> Demand:
    """Ten ship days of one SKU."""
    mean = draw(st.floats(0.05, 20)) * np.arange(1, 11)[None, :]
    late = np.array([draw(st.integers(0, 9))])
    return Demand(late, np.zeros((1, 10), dtype=int), mean, draw(st.floats(1, 5)) * mean)


@given(demand=demands(), first=st.integers(0, 40), more=st.integers(1, 30), day=st.integers(0, 9))
@hypothesis_settings(max_examples=100)
def test_more_stock_never_raises_expected_misses(demand: Demand, first: int, more: int, day: int) -> None:
    without, with_more = cumulated([], first=first, days=10), cumulated([(day, more)], first=first, days=10)
    misses = [
        float(total_misses(supply[None, :], demand, day_weight=np.ones(10), late_day_weight=0.1)[0])
        for supply in (without, with_more)
    ]
    assert misses[1] <= misses[0] + 1e-9
