"""Physics of a run against published or recomputed figures."""

from __future__ import annotations

import pytest

from stockplan.planner.core.extrusion import line_kg_h, run_masses, spool_length_m, winding_minutes


# Source: geometry, L = m / (rho pi d^2 / 4), recomputed; fabbaloo 2018-12-19 gives 2.405 cm3 per metre at 1.75 mm.
@pytest.mark.parametrize(
    ("diameter_mm", "density_g_cm3", "metres"),
    [
        (1.75, 1.24, 335.2836194167644),
        (2.85, 1.24, 126.415030404905),
        (1.75, 1.27, 327.3635339187306),
        (2.85, 1.04, 150.72561317507905),
        (1.75, 1.21, 343.59643642709744),
    ],
)
def test_spool_length_equals_mass_over_area_and_density(
    diameter_mm: float, density_g_cm3: float, metres: float
) -> None:
    found = spool_length_m(net_g=1000, diameter_mm=diameter_mm, density_g_cm3=density_g_cm3)
    assert found == pytest.approx(metres, rel=1e-9)


# Source: continuity equation, e.g. Rauwendaal, Polymer Extrusion, 5th ed., Hanser 2014 (definition; recomputed).
@pytest.mark.parametrize(
    ("speed_m_min", "diameter_mm", "density_g_cm3", "kg_h"),
    [(50, 1.75, 1.24, 8.947648576505427), (20, 2.85, 1.24, 9.492542114307312), (60, 1.75, 1.04, 9.005375341515142)],
)
def test_line_kg_h_follows_haul_off_speed(
    speed_m_min: float, diameter_mm: float, density_g_cm3: float, kg_h: float
) -> None:
    found = line_kg_h(strands=1, speed_m_min=speed_m_min, diameter_mm=diameter_mm, density_g_cm3=density_g_cm3)
    assert found == pytest.approx(kg_h, rel=1e-12)


def test_line_kg_h_is_the_least_of_strand_extruder_and_dryer() -> None:
    drawn = {"strands": 2, "speed_m_min": 50, "diameter_mm": 1.75, "density_g_cm3": 1.24}
    assert line_kg_h(**drawn) == pytest.approx(2 * 8.947648576505427)
    assert line_kg_h(**drawn, extruder_kg_h=12, dryer_kg_h=15) == 12
    assert line_kg_h(**drawn, extruder_kg_h=15, dryer_kg_h=11) == 11


# Source: 1 kg of PLA 1.75 mm at 50 m/min winds in 6.705672 min (recomputed from the continuity equation).
def test_winding_minutes_of_one_kilogram_equal_length_over_speed() -> None:
    found = winding_minutes(mass_kg=1, kg_h=8.947648576505427, scrap_share=0, availability=1)
    assert found == pytest.approx(6.705672388335288, rel=1e-12)


def test_winding_minutes_grow_with_scrap_and_stops() -> None:
    # By hand: 9 kg good at 10 kg/h, a tenth scrap, up half of the time: 9 / (10 x 0.9 x 0.5) h = 2 h.
    assert winding_minutes(mass_kg=9, kg_h=10, scrap_share=0.1, availability=0.5) == pytest.approx(120)


# Source: let-down by definition: 100 kg of melt at 2 % and 4 %, 25 kg at 1 %.
@pytest.mark.parametrize(
    ("melt_kg", "share", "concentrate_kg", "resin_kg"),
    [(100, 0.02, 2, 98), (100, 0.04, 4, 96), (25, 0.01, 0.25, 24.75)],
)
def test_run_masses_split_the_melt_by_let_down(
    melt_kg: float, share: float, concentrate_kg: float, resin_kg: float
) -> None:
    masses = run_masses(good_kg=melt_kg, purge_kg=0, scrap_share=0, let_down_share=share)
    assert (masses.concentrate_kg, masses.resin_kg) == pytest.approx((concentrate_kg, resin_kg), rel=1e-12)


def test_run_masses_put_purge_and_scrap_into_resin_and_concentrate() -> None:
    # By hand: 90 kg good is 90 % of 100 kg wound, 10 kg scrap; with 20 kg purge 120 kg of melt, of it 5 % concentrate.
    masses = run_masses(good_kg=90, purge_kg=20, scrap_share=0.1, let_down_share=0.05)
    assert masses.scrap_kg == pytest.approx(10)
    assert (masses.resin_kg, masses.concentrate_kg) == pytest.approx((114, 6))
