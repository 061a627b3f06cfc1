"""What a line makes in an hour, how long a run takes and what it eats.

Setpoints (speed, strands, limits) are the plant's own data; nothing here advises on them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


def strand_area_mm2(diameter_mm: float) -> float:
    """Return the cross-section of a round strand, pi/4 d^2."""
    return math.pi / 4 * diameter_mm**2


def line_kg_h(
    *,
    strands: int,
    speed_m_min: float,
    diameter_mm: float,
    density_g_cm3: float,
    extruder_kg_h: float = math.inf,
    dryer_kg_h: float = math.inf,
) -> float:
    """Return the mass that a line winds in an hour.

    The least of three limits: the strands drawn off (continuity: speed x area x density of the solid, metre per
    minute times mm2 is cm3 per minute), the extruder, and a dryer that feeds it continuously.

    Parameters
    ----------
    strands, speed_m_min, diameter_mm, density_g_cm3
        The line drawing this filament, all positive.
    extruder_kg_h, dryer_kg_h
        Limits; left out: none.

    Examples
    --------
    >>> round(line_kg_h(strands=1, speed_m_min=50, diameter_mm=1.75, density_g_cm3=1.24), 3)
    8.948
    """
    drawn_g_min = strands * speed_m_min * strand_area_mm2(diameter_mm) * density_g_cm3
    return min(drawn_g_min * 60 / 1000, extruder_kg_h, dryer_kg_h)


def winding_minutes(*, mass_kg: float, kg_h: float, scrap_share: float, availability: float) -> float:
    """Return the line minutes that wind `mass_kg` of good spools.

    mass / (kg/h x (1 - scrap share) x availability): scrap is wound too, and a line is not always up.
    """
    return mass_kg / (kg_h * (1 - scrap_share) * availability) * 60


def spool_length_m(*, net_g: float, diameter_mm: float, density_g_cm3: float) -> float:
    """Return the length of filament on a spool: net mass / (area x density)."""
    return net_g / (strand_area_mm2(diameter_mm) * density_g_cm3)


@dataclass(frozen=True)
class RunMasses:
    """What goes into a run and what comes out of it, in kg; resin + concentrate = good + scrap + purge."""

    good_kg: float
    scrap_kg: float
    purge_kg: float
    resin_kg: float
    concentrate_kg: float


def run_masses(*, good_kg: float, purge_kg: float, scrap_share: float, let_down_share: float) -> RunMasses:
    """Return the bill of materials of a run.

    The line is purged with the run's own melt, so concentrate goes into purge and scrap as well.

    Parameters
    ----------
    good_kg
        Mass on good spools, give-away included.
    scrap_share
        Share of what is wound that is scrap.
    let_down_share
        Share of concentrate in the melt; 0 for natural.
    """
    scrap_kg = good_kg * scrap_share / (1 - scrap_share)
    melt_kg = good_kg + scrap_kg + purge_kg
    return RunMasses(good_kg, scrap_kg, purge_kg, melt_kg * (1 - let_down_share), melt_kg * let_down_share)
