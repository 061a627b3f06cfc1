"""What the compiled paths of families read and write: see `paths`."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from stockplan.planner.core.search.problem import Floats, Ints


class Tables(NamedTuple):
    """What lots save, prices apart. F families, S SKUs, R rows of all SKUs, D days of arrival.

    Parameters
    ----------
    first : (F + 1,) first place of each family in `sku`.
    sku : (S,) SKUs by family.
    row, rows : (S,) first of the rows of an SKU in `paid`, and how many: one for each number of units.
    paid : (R, D + 1) cost of the days before each day of arrival, and before the end.
    choice, choices : (F + 1,) first of the choices of each family, and (C, K) units of each of its SKUs in turn: all
        that its items allow. A family without any is free to choose each SKU for itself.
    before : (F, D + 1) the same of a family without any units.
    """

    first: Ints
    sku: Ints
    row: Ints
    rows: Ints
    paid: Floats
    choice: Ints
    choices: Ints
    before: Floats


class LotPrices(NamedTuple):
    """What a lot costs.

    Parameters
    ----------
    unit : (S, D + 1) of each unit by the day of its lot; at the end nothing.
    anew : (F, D) of a lot that does not go on after one of its own family, beside its units.
    own : (F, D) of one that does, beside what holding a line costs.
    held : (F, D + 1) of holding a line from the start until each day closes.
    """

    unit: Floats
    anew: Floats
    own: Floats
    held: Floats


class Paths(NamedTuple):
    """The cheapest lots.

    Parameters
    ----------
    cost : (F,)
    made : (S, D) units of each lot.
    is_lot, is_own : (F, D) one where a lot arrives, and where it goes on after one of its own family.
    after : (F, D) day of the lot before; `NOTHING` where it is the first.
    """

    cost: Floats
    made: Floats
    is_lot: Ints
    is_own: Ints
    after: Ints


class Scratch(NamedTuple):
    """Room to work in: (R, D + 1) priced rows, then (D + 1,) each."""

    priced: Floats
    path: Floats
    before: Ints
    is_own: Ints
    arc: Floats
    least: Floats


def paths_of(tables: Tables) -> tuple[Paths, Scratch]:
    """Return room for the paths of some tables."""
    families, ends = tables.before.shape
    is_lot, is_own, after = (np.zeros((families, ends - 1), dtype=np.int64) for _ in range(3))
    paths = Paths(np.zeros(families), np.zeros((len(tables.row), ends - 1)), is_lot, is_own, after)
    before, goes_on = (np.zeros(ends, dtype=np.int64) for _ in range(2))
    path, arc, least = (np.zeros(ends) for _ in range(3))
    return paths, Scratch(np.zeros_like(tables.paid), path, before, goes_on, arc, least)
