"""What the index passes over without a full look is never among the two best, checked against a look at everything."""

from __future__ import annotations

from dataclasses import replace

import pytest

from stockplan.planner.core.floor import TimedRun
from stockplan.planner.core.opening import opening_of
from stockplan.planner.core.planning import rules_of
from stockplan.planner.core.plant import plant_of
from stockplan.planner.core.selection import Decision, best_offers, lot_of, offers_of, place_lot, runs_in_turn
from stockplan.planner.core.supply import supply_state
from tests.benches.bench_gap import Size, plant_facts


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_the_two_best_offers_are_those_of_a_look_at_every_filament(seed: int) -> None:
    given = plant_facts(Size(skus=80, lines=2, seeds=(), moves=0), seed)
    skus = tuple(replace(sku, late=at % 5 // 4) for at, sku in enumerate(given.skus))
    plant = plant_of(replace(given, skus=skus, parameters=replace(given.parameters, least_worth_per_h=1.0)).in_order())
    opening, rules = opening_of(plant), rules_of(plant)
    floor, state = opening.floor, supply_state(plant, opening)

    def next_run(line: str, minute: int) -> TimedRun | None:
        every = offers_of(floor, state, line, minute, rules=rules)
        if not every or every[0].worth_per_min * 60 < plant.facts.parameters.least_worth_per_h:
            every = [offer for offer in every if state.is_late(offer.filament)]
        best = best_offers(floor, state, line, minute, rules=rules)
        assert [(o.filament, o.worth_per_min) for o in best] == [(o.filament, o.worth_per_min) for o in every[:2]]
        if not best:
            return None
        return place_lot(
            floor, state, lot_of(plant, best[0], price_per_min=0.0), Decision(line, best[0].filament, minute)
        )

    assert len(runs_in_turn(floor, next_run)) > 10
