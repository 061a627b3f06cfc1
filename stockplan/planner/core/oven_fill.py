"""What to put into the ovens tonight: spools that orders wait for first, then the rest, as far as places go."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class WoundSpools:
    """Spools of one lot that wait for an oven.

    `needed` of them belong to orders, the first of which is due on `due_day`. They dry at `low_c` to `high_c` and take
    `places_each` places of an oven.
    """

    key: str
    spools: int
    needed: int
    due_day: date | None
    places_each: float
    low_c: int
    high_c: int


@dataclass(frozen=True)
class OvenRoom:
    """An oven that can be loaded: its free places and its temperature."""

    code: str
    places: float
    temperature_c: int


def fill_ovens(waiting: Sequence[WoundSpools], ovens: Sequence[OvenRoom]) -> dict[tuple[str, str], int]:
    """Return the spools to load by (oven, key of the lot).

    Spools that orders wait for come first, those due first before the others; then the rest in the order given. Each
    lot goes where most places are left among the ovens whose temperature suits it, and on to the next when that is
    full. A rule of thumb, not an optimum: one night has few lots, and the floor changes the numbers.
    """
    left = {oven.code: oven.places for oven in ovens}
    load: dict[tuple[str, str], int] = {}
    first = sorted((row for row in waiting if row.needed), key=lambda row: (row.due_day or date.max, row.key))
    for row, spools in [(row, row.needed) for row in first] + [(row, row.spools - row.needed) for row in waiting]:
        fitting = [oven for oven in ovens if row.low_c <= oven.temperature_c <= row.high_c]
        still = spools
        for oven in sorted(fitting, key=lambda oven: (-left[oven.code], oven.code)):
            taken = min(still, int(left[oven.code] / row.places_each + 1e-9))
            load[oven.code, row.key] = load.get((oven.code, row.key), 0) + taken
            left[oven.code] -= taken * row.places_each
            still -= taken
    return {where: spools for where, spools in load.items() if spools}
