"""Minutes and purge between two runs on a line, by pair."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Pair = tuple[str, str]


@dataclass(frozen=True)
class FilamentTraits:
    """What of a filament decides on a changeover."""

    code: str
    material: str
    colour: str
    lab_l: float
    diameter_mm: float


@dataclass(frozen=True)
class ChangeoverRule:
    """The plant's general rule: what each kind of change adds, in minutes.

    A change of colour costs `colour_change_min` and, towards a lighter colour, `darker_to_lighter_min` for each
    point of L* upwards, because traces of a dark colour show in a light one and not the other way round.
    """

    material_change_min: float
    diameter_change_min: float
    colour_change_min: float
    darker_to_lighter_min: float
    purge_kg_per_hour: float


@dataclass(frozen=True)
class Override:
    """Minutes and purge of one pair that the plant knows better. `line` None holds for every line."""

    line: str | None
    pair: Pair
    minutes: float
    purge_kg: float


@dataclass(frozen=True)
class ChangeoverTable:
    """Minutes and purge of every pair on every line; row = from, column = to, in the order of `codes`."""

    codes: tuple[str, ...]
    minutes: Mapping[str, NDArray[np.float64]]
    purge_kg: Mapping[str, NDArray[np.float64]]
    is_material_change: NDArray[np.bool_]
    index: Mapping[str, int] = field(default_factory=dict)


def changeover_table(
    filaments: Sequence[FilamentTraits], *, lines: Sequence[str], rule: ChangeoverRule, overrides: Sequence[Override]
) -> ChangeoverTable:
    """Build the table; an override for a line beats one for every line, which beats the rule.

    Memory is lines x filaments squared.
    """
    codes = tuple(f.code for f in filaments)
    index = {code: i for i, code in enumerate(codes)}
    base_min = _rule_minutes(filaments, rule)
    base_kg = base_min / 60 * rule.purge_kg_per_hour
    minutes = {line: base_min.copy() for line in lines}
    purge = {line: base_kg.copy() for line in lines}
    for override in sorted(overrides, key=lambda o: (o.line is not None, o.line or "", o.pair)):
        if override.pair[0] in index and override.pair[1] in index:
            at = index[override.pair[0]], index[override.pair[1]]
            for line in lines if override.line is None else [override.line]:
                if line in minutes:
                    minutes[line][at] = override.minutes
                    purge[line][at] = override.purge_kg
    return ChangeoverTable(codes, minutes, purge, _differs(filaments, "material"), index)


def _rule_minutes(filaments: Sequence[FilamentTraits], rule: ChangeoverRule) -> NDArray[np.float64]:
    lab_l = np.array([f.lab_l for f in filaments], dtype=np.float64)
    lighter = np.maximum(lab_l[None, :] - lab_l[:, None], 0.0)
    colour = _differs(filaments, "colour")
    total: NDArray[np.float64] = (
        _differs(filaments, "material") * rule.material_change_min
        + _differs(filaments, "diameter_mm") * rule.diameter_change_min
        + colour * (rule.colour_change_min + lighter * rule.darker_to_lighter_min)
    )
    return total


def _differs(filaments: Sequence[FilamentTraits], trait: str) -> NDArray[np.bool_]:
    values = np.array([getattr(f, trait) for f in filaments])
    return np.asarray(values[:, None] != values[None, :], dtype=np.bool_)
