"""What the lots of a list share, as the search sees it: items of the store, hoppers, oven loads and packing."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from stockplan.planner.core.finishing import fitting_ovens
from stockplan.planner.core.floor import Floor
from stockplan.planner.core.materials import mass_needs, needs_of
from stockplan.planner.core.plant import Plant
from stockplan.planner.core.search.problem import (
    NEVER,
    NOTHING,
    Floats,
    SearchDryers,
    SearchFinishing,
    SearchHopper,
    SearchItems,
    SearchPurge,
)

# Spools of a morning whose packing is not limited, and the minute of a gate that is none.
UNLIMITED = 2**40


def dryers_of(floor: Floor, filaments: Sequence[str]) -> SearchDryers | None:
    """Hoppers as they stand, the smallest first, and the resin that lots take of them."""
    plant, states = floor.plant, floor.hoppers.states.values()
    if not states:
        return None
    materials = {m.code: at for at, m in enumerate(plant.facts.materials)}
    lines = list(plant.lines)
    return SearchDryers(
        hoppers=[
            SearchHopper(
                capacity_kg=state.facts.capacity_kg,
                feeds=state.facts.is_continuous,
                clean_min=round(state.facts.clean_min),
                holds=NOTHING if state.material is None else materials[state.material],
                dries_since=NEVER if state.dried_since_min is None else state.dried_since_min,
                left_kg=state.left_kg,
                free_min=state.free_min,
            )
            for state in sorted(states, key=lambda state: (state.facts.capacity_kg, state.facts.code))
        ],
        material=np.array(
            [
                materials[plant.material_of[code].code] if plant.material_of[code].resin_dry_h else NOTHING
                for code in filaments
            ]
        ),
        dry_min=np.array([round(m.resin_dry_h * 60) for m in plant.facts.materials]),
        keeps_min=np.array([round(m.dried_keeps_h * 60) for m in plant.facts.materials]),
        unit_kg=np.stack([_unit_kg(plant, line) for line in lines]),
        resin_share=np.array([1 - plant.filaments[code].let_down_share for code in filaments]),
        kg_h=np.array(
            [
                [plant.kg_h(line, code) if code in plant.lines[line].rates else 0.0 for code in filaments]
                for line in lines
            ]
        ),
    )


def _unit_kg(plant: Plant, line: str) -> Floats:
    """Resin of one unit of each SKU on a line, scrap included."""
    sku_kg = np.zeros(len(plant.facts.skus))
    for filament, skus in plant.skus_of.items():
        for at, sku in enumerate(skus):
            one = [int(other == at) for other in range(len(skus))]
            sku_kg[sku] = plant.resin_kg(line, filament, filament, one)
    return sku_kg


def purge_of(floor: Floor, filaments: Sequence[str], *, items: SearchItems) -> SearchPurge:
    """Melt that each changeover takes, which items are in it, and what their stock leaves out for it."""
    plant, codes = floor.plant, sorted(floor.store.left)
    index = {item: at for at, item in enumerate(codes)}
    order = [plant.changeovers.index[code] for code in filaments]
    kg = np.zeros((len(plant.lines), len(order) + 1, len(order)))
    for at, line in enumerate(plant.lines):
        kg[at, :-1] = plant.changeovers.purge_kg[line][np.ix_(order, order)]
        np.fill_diagonal(kg[at, :-1], 0.0)
    melts = [(plant.material_of[code].resin_item, plant.filaments[code].concentrate_item) for code in filaments]
    let_down = np.array([plant.filaments[code].let_down_share for code in filaments])
    return SearchPurge(
        kg=kg,
        item=np.array([[NOTHING if item is None else index.get(item, NOTHING) for item in melt] for melt in melts]),
        share=np.stack([1 - let_down, let_down], axis=1),
        spared=np.array([max(floor.store.left[item], 0.0) for item in codes]) - items.stock,
    )


def finishing_of(floor: Floor, *, slack_min: int) -> SearchFinishing | None:
    """Oven loads and packing mornings with what is free of them; None where neither is limited.

    Parameters
    ----------
    slack_min
        Minutes before a load, or packing, by which lots must end to be in it.
    """
    plant, board = floor.plant, floor.finishing
    if not board.ovens and not board.packing:
        return None
    skus, hours = plant.facts.skus, sorted(board.times)
    times = [board.times[h] for h in hours]
    gates = max(len(each.gates) for each in times)
    loads = sorted({gate for h, each in zip(hours, times, strict=True) if h > 0 for gate in each.gates})
    shelves = sorted({shelf for each in times for shelf in each.shelf})
    load_at, shelf_at = ({minute: at for at, minute in enumerate(minutes)} for minutes in (loads, shelves))
    shape = (len(times), gates)
    gate_min, day = np.full(shape, UNLIMITED), np.full(shape, len(plant.facts.days))
    load, shelf = np.full(shape, NOTHING), np.zeros(shape, dtype=np.int64)
    for row, (h, each) in enumerate(zip(hours, times, strict=True)):
        n = len(each.gates)
        gate_min[row, :n], day[row, :n] = each.gates, np.minimum(each.day, len(plant.facts.days))
        load[row, :n] = [load_at[gate] for gate in each.gates] if h > 0 and board.ovens else NOTHING
        shelf[row, :n] = [shelf_at[minute] for minute in each.shelf]
    return SearchFinishing(
        gate_min=gate_min - slack_min,
        load=load,
        shelf=shelf,
        day=day,
        places=np.array(
            [[board.places_left.get((gate, oven.code), oven.places) for oven in board.ovens] for gate in loads]
        ).reshape(len(loads), len(board.ovens)),
        packing=np.array(
            [
                max(board.packing[minute] - board.packed.get(minute, 0), 0) if minute in board.packing else UNLIMITED
                for minute in shelves
            ]
        ),
        places_each=np.array([sku.oven_places for sku in skus]),
        fits=np.array(
            [
                [oven in fitting_ovens(board.ovens, sku, plant.material_of[sku.filament]) for oven in board.ovens]
                for sku in skus
            ],
            dtype=np.bool_,
        ).reshape(len(skus), len(board.ovens)),
    )


def items_of(floor: Floor) -> SearchItems:
    """What is left in the store for spools, and what one takes of it on the line that wastes least."""
    plant, index = floor.plant, {item: at for at, item in enumerate(sorted(floor.store.left))}
    use = np.zeros((len(plant.facts.skus), len(index)))
    for filament, skus in plant.skus_of.items():
        for at, sku in enumerate(skus):
            one = [int(other == at) for other in range(len(skus))]
            needs = [needs_of(plant, line, filament, filament, one) for line in plant.lines_for(filament)]
            for item in index.keys() & set().union(*needs):
                use[sku, index[item]] = min(need[item] for need in needs)
    purged = _least_purged(floor)
    return SearchItems(use, np.array([max(floor.store.left[item] - purged.get(item, 0.0), 0.0) for item in index]))


def _least_purged(floor: Floor) -> dict[str, float]:
    """What the first changeover to a filament that takes an item purges of it, at the least.

    None where a line is empty or holds such a filament: it begins without one.
    """
    plant, least = floor.plant, dict[str, float]()
    for filament, skus in plant.skus_of.items():
        for line in plant.lines_for(filament):
            holds = floor.lines[line].holds
            if holds is not None:
                holds = _least_purging(plant, line, filament, holds)
            for item, kg in mass_needs(plant, line, holds, filament, [0] * len(skus)).items():
                least[item] = min(least.get(item, np.inf), kg)
    return least


def _least_purging(plant: Plant, line: str, filament: str, holds: str) -> str:
    """Return what a line would best hold before it goes over to a filament; the filament where it holds that."""
    if holds == filament:
        return holds
    at = plant.changeovers.index[filament]
    purge_kg = plant.changeovers.purge_kg[line][:, at].copy()
    purge_kg[at] = np.inf
    return plant.changeovers.codes[int(purge_kg.argmin())]
