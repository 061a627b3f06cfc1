"""What lots share beside crews, laid out in arrays: hoppers, room after the lines, and what setups take of items."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from stockplan.planner.core.search.problem import (
    NOTHING,
    Floats,
    Ints,
    SearchDryers,
    SearchFinishing,
    SearchProblem,
    SearchPurge,
)

# Cost of a unit for which items are short: more than any is worth in misses. Of an item that no unit takes, a kilogram.
SHORT_UNIT, LEAST_USE = 20.0, 1e-3


class Shared(NamedTuple):
    """L lines, F families, S SKUs, I items, M materials, H hoppers, A ways of finishing with G gates, N loads, O ovens.

    What a problem leaves out has no rows.
    """

    purge_kg: Floats  # (L, F + 1, F)
    purge_item: Ints  # (F, J) items in what is purged, -1 where it has fewer
    purge_share: Floats  # (F, J)
    spared: Floats  # (I,) what stock leaves for purge
    short_price: Floats  # (I,) cost of what is short
    dries: Ints  # (F,) material that is dried before, -1 where none is
    dry_min: Ints  # (M,)
    keeps_min: Ints  # (M,)
    unit_kg: Floats  # (L, S)
    resin_share: Floats  # (F,) of what is purged
    kg_h: Floats  # (L, F)
    hopper: Ints  # (H, 3) what it holds at the start, since when that dries, when it is free
    hopper_left: Floats  # (H,) kg in it at the start
    hopper_kg: Floats  # (H,) kg that it holds
    hopper_feeds: NDArray[np.bool_]  # (H,) whether it dries as it feeds
    clean_min: Ints  # (H,)
    gate_min: Ints  # (A, G) last minutes at which spools join, by way of finishing
    gate_load: Ints  # (A, G) oven load of a gate, -1 where nothing dries
    gate_shelf: Ints  # (A, G) packing morning of a gate
    gate_day: Ints  # (A, G) day of arrival
    places: Floats  # (N, O) free places of each oven load
    packing: Ints  # (P,) spools that can be packed on each morning
    places_each: Floats  # (S,)
    fits: NDArray[np.bool_]  # (S, O)


def shared_of(problem: SearchProblem) -> Shared:
    """Lay out what a problem's lots share."""
    purge = problem.purge or _no_purge(problem)
    dryers = problem.dryers or _no_dryers(problem)
    room = problem.finishing or _NO_FINISHING
    hoppers = dryers.hoppers
    return Shared(
        purge_kg=purge.kg.astype(np.float64),
        purge_item=purge.item.astype(np.int64),
        purge_share=purge.share.astype(np.float64),
        spared=purge.spared.astype(np.float64),
        short_price=SHORT_UNIT / np.maximum(problem.items_of.use.max(axis=0, initial=0.0), LEAST_USE),
        dries=dryers.material.astype(np.int64),
        dry_min=dryers.dry_min.astype(np.int64),
        keeps_min=dryers.keeps_min.astype(np.int64),
        unit_kg=dryers.unit_kg.astype(np.float64),
        resin_share=dryers.resin_share.astype(np.float64),
        kg_h=dryers.kg_h.astype(np.float64),
        hopper=np.array([(h.holds, h.dries_since, h.free_min) for h in hoppers], dtype=np.int64).reshape(-1, 3),
        hopper_left=np.array([h.left_kg for h in hoppers], dtype=np.float64),
        hopper_kg=np.array([h.capacity_kg for h in hoppers], dtype=np.float64),
        hopper_feeds=np.array([h.feeds for h in hoppers], dtype=np.bool_),
        clean_min=np.array([h.clean_min for h in hoppers], dtype=np.int64),
        gate_min=room.gate_min.astype(np.int64),
        gate_load=room.load.astype(np.int64),
        gate_shelf=room.shelf.astype(np.int64),
        gate_day=room.day.astype(np.int64),
        places=room.places.astype(np.float64),
        packing=room.packing.astype(np.int64),
        places_each=room.places_each.astype(np.float64),
        fits=room.fits.astype(np.bool_),
    )


_NO_FLOATS, _NO_ROWS = np.zeros((0, 0)), np.zeros((0, 0), dtype=np.int64)
_NO_FINISHING = SearchFinishing(
    gate_min=_NO_ROWS,
    load=_NO_ROWS,
    shelf=_NO_ROWS,
    day=_NO_ROWS,
    places=_NO_FLOATS,
    packing=_NO_ROWS.reshape(-1),
    places_each=_NO_FLOATS.reshape(-1),
    fits=np.zeros((0, 0), dtype=np.bool_),
)


def _no_purge(problem: SearchProblem) -> SearchPurge:
    families = len(problem.release_min)
    # No family purges an item, so that kilograms and shares are never looked up.
    return SearchPurge(
        kg=np.zeros((0, 0, 0)),
        item=np.full((families, 1), NOTHING),
        share=_NO_FLOATS,
        spared=np.zeros(len(problem.items_of.stock)),
    )


def _no_dryers(problem: SearchProblem) -> SearchDryers:
    none = _NO_ROWS.reshape(-1)
    return SearchDryers(
        hoppers=(),
        material=np.full(len(problem.release_min), NOTHING),
        dry_min=none,
        keeps_min=none,
        unit_kg=_NO_FLOATS,
        resin_share=_NO_FLOATS.reshape(-1),
        kg_h=_NO_FLOATS,
    )
