"""From feet per minute to spools per shift and the shelf day, once per diameter.

The figures of the trade (line speeds in ft/min, about 9.8 and 32 to 33 kg/h of PLA, 335 m/kg, spools dry overnight and
are packed the next morning) are common practice, no source. 1 ft = 0.3048 m exactly (NIST SP 811).
"""

from __future__ import annotations

from datetime import date, datetime

import pytest

from stockplan.planner.core.extrusion import line_kg_h, spool_length_m, winding_minutes
from tests.planner.small_facts import ZONE, calendar

FOOT_M = 0.3048
PLA_G_CM3 = 1.24
SHIFT_MIN = 8 * 60


def _kg_h(feet_min: float, diameter_mm: float) -> float:
    return line_kg_h(strands=1, speed_m_min=feet_min * FOOT_M, diameter_mm=diameter_mm, density_g_cm3=PLA_G_CM3)


def _spools_per_shift(kg_h: float, net_kg: float) -> int:
    return int(SHIFT_MIN / winding_minutes(mass_kg=net_kg, kg_h=kg_h, scrap_share=0, availability=1))


def test_thin_strand_gives_its_kilograms_and_spools_per_shift() -> None:
    kg_h = _kg_h(180, 1.75)
    assert kg_h == pytest.approx(9.8, abs=0.05)
    assert spool_length_m(net_g=1000, diameter_mm=1.75, density_g_cm3=PLA_G_CM3) == pytest.approx(335, abs=0.5)
    # 9.8 kg/h x 8 h = 78.5 kg: 78 spools of 1 kg; 104 of 750 g.
    assert _spools_per_shift(kg_h, 1.0) == 78
    assert _spools_per_shift(kg_h, 0.75) == 104


def test_thick_strand_gives_its_kilograms_and_spools_per_shift() -> None:
    slow, fast = _kg_h(220, 2.85), _kg_h(230, 2.85)
    assert slow == pytest.approx(32, abs=0.2)
    assert fast == pytest.approx(33, abs=0.4)
    # 31.8 kg/h x 8 h = 254.7 kg: 254 spools of 1 kg; 25 of 10 kg.
    assert _spools_per_shift(slow, 1.0) == 254
    assert _spools_per_shift(slow, 10.0) == 25


def test_thin_strand_of_a_monday_shift_ships_on_tuesday() -> None:
    end_of_shift = datetime(2027, 3, 1, 14, tzinfo=ZONE)
    week = calendar()
    assert week.first_ship_day(week.shelf_at(end_of_shift, dry_h=6)) == date(2027, 3, 2)


def test_thick_strand_of_a_friday_shift_ships_on_monday() -> None:
    end_of_shift = datetime(2027, 3, 5, 14, tzinfo=ZONE)
    week = calendar()
    assert week.first_ship_day(week.shelf_at(end_of_shift, dry_h=6)) == date(2027, 3, 8)
