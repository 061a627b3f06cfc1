"""One week of the small plant, every number by hand. README.md prints the same.

Three SKUs (STONE 1 kg, SNOW 1 kg, SNOW 250 g) on one line that holds STONE. Cut-off 13:40, pick-up 16:00, ovens loaded
at 18:00, six hours of drying, packed from 06:00, shelved by 09:00, Monday to Friday. On Monday 2027-03-01 at 08:00 the
shelf holds 20 STONE of which an open order owns 10, and 5 SNOW of which one owns 4. The arithmetic stands beside each
check; e^-1 = 0.367879, e^-2 = 0.135335, e^-3 = 0.049787, e^-4 = 0.018316, e^-5 = 0.006738.
"""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from forecasting.distribution import NegativeBinomial
from forecasting.stock_targets import fill_rate
from inventory.plant_files.load import load_plant
from inventory.rules.clock import Clock
from inventory.rules.order_draft import OrderDraft
from inventory.rules.order_receipt import OrderReceipt
from inventory.services.orders import order_receipt, place_order
from inventory.services.runs import release_run
from stockplan.planner.core.extrusion import line_kg_h, spool_length_m, winding_minutes
from stockplan.planner.core.shortage import Demand, cumulated, total_misses
from tests.inventory.plant_dir import write_small_plant

ZONE = ZoneInfo("Europe/Berlin")
STONE, SNOW = "PLA-STONE-175-1000", "PLA-SNOW-175-1000"


def local(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=ZONE)


@pytest.fixture
def _monday(db, tmp_path: Path) -> None:
    load_plant(write_small_plant(tmp_path / "plant"), as_of=local("2027-03-01 08:00"))


def order(reference: str, sku: str, spools: int, *, received: str) -> OrderReceipt:
    body = OrderDraft(channel_code="SHOP", reference=reference, lines=[(sku, spools)])
    return place_order(body=body, clock=Clock.at(local(received)))


def release_snow(*, ends: str) -> None:
    release_run(
        filament_code="PLA-SNOW-175",
        line_code="L1",
        spools={SNOW: 20},
        planned_start=local("2027-03-05 12:00"),
        planned_end=local(ends),
        changeover_min=Decimal(45),
        clock=Clock.at(local("2027-03-01 10:00")),
    )


@pytest.mark.usefixtures("_monday")
@pytest.mark.parametrize(("received", "ships"), [("13:39", date(2027, 3, 1)), ("13:40", date(2027, 3, 2))])
def test_free_stock_ships_today_only_before_the_cut_off(received, ships):
    # 20 on the shelf less 10 of the open order leave 10 free; 3 are asked for.
    promise = order("A", STONE, 3, received=f"2027-03-01 {received}")
    assert (promise.due_day, promise.ship_day, promise.lines[0].from_shelf) == (ships, ships, 3)


@pytest.mark.usefixtures("_monday")
def test_order_beyond_the_free_stock_has_no_ship_day_until_a_run_is_released():
    # 5 on the shelf less 4 leave 1 free of the 2 asked for.
    promise = order("B", SNOW, 2, received="2027-03-01 09:00")
    assert (promise.ship_day, promise.lines[0].from_shelf, promise.lines[0].unpromised) == (None, 1, 1)


@pytest.mark.usefixtures("_monday")
@pytest.mark.parametrize(
    ("ends", "ships"),
    [
        # Friday 17:30: into the oven at 18:00, dry at midnight, packed on Monday from 06:00, shelved by 09:00.
        ("2027-03-05 17:30", date(2027, 3, 8)),
        # Friday 18:30: the oven is loaded next on Monday at 18:00, packed on Tuesday.
        ("2027-03-05 18:30", date(2027, 3, 9)),
    ],
)
def test_run_of_friday_serves_the_waiting_order_after_the_weekend(ends, ships):
    waiting = order("B", SNOW, 2, received="2027-03-01 09:00")
    release_snow(ends=ends)
    promise = order_receipt(waiting.order_id)
    assert (promise.due_day, promise.ship_day) == (date(2027, 3, 1), ships)


def snow_kg_h() -> float:
    return line_kg_h(strands=1, speed_m_min=55, diameter_mm=1.75, density_g_cm3=1.24, extruder_kg_h=14)


def test_line_winds_9_84_kg_an_hour():
    # 55 m/min x 60 = 3300 m/h; x 2.40528 mm2 = 7937.4 cm3/h; x 1.24 g/cm3 = 9842.4 g/h, below the extruder's 14 kg.
    assert snow_kg_h() == pytest.approx(9.8424, abs=5e-5)


def test_twenty_spools_take_139_minutes():
    # 20 x 1.005 kg = 20.1 kg; / (9.8424 kg/h x 0.98 good x 0.90 up = 8.6810 kg/h) = 2.31540 h = 138.92 min.
    minutes = winding_minutes(mass_kg=20.1, kg_h=snow_kg_h(), scrap_share=0.02, availability=0.9)
    assert minutes == pytest.approx(138.92, abs=0.01)


def test_a_kilogram_is_335_m_long():
    # 1000 g / (2.40528 mm2 x 1.24 g/cm3 = 2.98255 g/m) = 335.28 m.
    assert spool_length_m(net_g=1000, diameter_mm=1.75, density_g_cm3=1.24) == pytest.approx(335.28, abs=0.01)


def test_four_spools_give_a_fill_rate_of_93_per_cent():
    # Poisson, L = 1 ship day, R = 1 at one spool a day: D_L has mean 1, D_{L+R} mean 2, order up to 4.
    # E[(D-4)+] at 2: 2 - 4 + e^-2 (4 + 3x2 + 2x2 + 1x8/6) = -2 + 15.3333 x 0.135335 = 0.07514
    # E[(D-4)+] at 1: 1 - 4 + e^-1 (4 + 3 + 2/2 + 1/6)     = -3 +  8.1667 x 0.367879 = 0.00435
    # fill rate = 1 - (0.07514 - 0.00435) / 1 = 0.92921
    lead, risk = (NegativeBinomial(mean=np.array([m]), variance=np.array([m])) for m in (1.0, 2.0))
    assert fill_rate(np.array([4.0]), lead_demand=lead, risk_demand=risk)[0] == pytest.approx(0.92921, abs=2e-5)


def test_run_that_is_shelved_on_wednesday_is_worth_0_87_misses_an_hour():
    # One spool a day, Poisson, 2 free on Monday. Late at the end of day t: e(t) = t - 2 + e^-t (2 + t), so
    # e(2..5) = 0.54134, 1.24894, 2.10989, 3.04717.
    # Misses due from Wednesday on, without the run: e(5) - e(2)                               = 2.50583
    # What is late counts 0.1 of a miss for each further day: 0.1 x (e(2) + e(3) + e(4))       = 0.39002
    # With 20 spools more from Wednesday on nothing is short (the chance is below 1e-6):         2.89584 avoided.
    # Changeover STONE to SNOW 45 min + start-up 15 + winding 138.92 = 198.92 min: 2.89584 / 3.31534 h = 0.8735 an hour.
    days = np.arange(1.0, 6.0)[None, :]
    demand = Demand(late=np.array([0]), due=np.zeros((1, 5), dtype=np.int64), mean=days, variance=days)
    supplies = (cumulated(arrivals, first=2, days=5)[None, :] for arrivals in ([], [(2, 20)]))
    without, with_run = (
        total_misses(supply, demand, day_weight=np.ones(5), late_day_weight=0.1)[0] for supply in supplies
    )
    hours = (45 + 15 + winding_minutes(mass_kg=20.1, kg_h=snow_kg_h(), scrap_share=0.02, availability=0.9)) / 60
    assert without - with_run == pytest.approx(2.89584, abs=2e-5)
    assert (without - with_run) / hours == pytest.approx(0.8735, abs=1e-4)
