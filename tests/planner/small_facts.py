"""A plant small enough to plan by hand: two lines at most, round figures, Monday 2027-03-01 06:00 in Berlin.

Lines work Monday to Friday 06:00 to 22:00. Ovens are loaded at 22:00 and dry for 6 h; packing from 06:00, shelved by
10:00, parcels leave at 15:00. At 60 m/min of a strand of 1 mm2 and 1 g/cm3 a line winds 3.6 kg an hour; the extruder
limit of 3 kg/h makes that a round 20 minutes a kilogram, with neither scrap nor stops.
"""

from __future__ import annotations

import math
from datetime import UTC, date, datetime, time
from typing import Any
from zoneinfo import ZoneInfo

from inventory.rules.calendar import DayRule, PlantCalendar, Window
from stockplan.planner.core.changeover import ChangeoverRule, FilamentTraits
from stockplan.planner.core.facts import FilamentFacts, LineFacts, MaterialFacts, PlanFacts, SkuFacts
from stockplan.planner.core.parameters import PlanParameters

ZONE = ZoneInfo("Europe/Berlin")
MONDAY = datetime(2027, 3, 1, 6, tzinfo=ZONE).astimezone(UTC)
DAY_RULE = DayRule(
    cut_off=time(13),
    pick_up=time(15),
    oven_load_at=time(22),
    pack_from=time(6),
    shelf_ready=time(10),
    pack_spools=0,
)
RULE = ChangeoverRule(
    material_change_min=60, diameter_change_min=25, colour_change_min=12, darker_to_lighter_min=0.5, purge_kg_per_hour=6
)
UNIT_AREA_MM = math.sqrt(4 / math.pi)


def calendar(
    *, lines: tuple[str, ...] = ("L1",), closed: frozenset[date] = frozenset(), **fields: Any
) -> PlantCalendar:
    shift = tuple(Window(weekday, time(6), time(22)) for weekday in range(5))
    rules = dict.fromkeys(range(5), DAY_RULE)
    return PlantCalendar(
        zone=ZONE, **({"day_rules": rules, "closed_days": closed, "shifts": dict.fromkeys(lines, shift)} | fields)
    )


def ship_days(count: int) -> tuple[date, ...]:
    return tuple(calendar().ship_days(date(2027, 3, 1), date(2027, 6, 1))[:count])


def material(code: str = "PLA", **fields: Any) -> MaterialFacts:
    figures: dict[str, Any] = {
        "density_g_cm3": 1.0,
        "resin_item": f"RESIN-{code}",
        "resin_dry_h": 4.0,
        "dried_keeps_h": 24.0,
        "spool_dry_min_c": 45,
        "spool_dry_max_c": 55,
        "spool_dry_h": 6.0,
    }
    return MaterialFacts(code=code, **(figures | fields))


def filament(code: str, *, material_code: str = "PLA", lab_l: float = 50.0, **fields: Any) -> FilamentFacts:
    traits = FilamentTraits(code, material_code, colour=code, lab_l=lab_l, diameter_mm=UNIT_AREA_MM)
    return FilamentFacts(traits, name=code, **({"let_down_share": 0.0, "concentrate_item": None} | fields))


def sku(filament_code: str, *, daily: float = 1.0, days: int = 8, size: str = "1000", **fields: Any) -> SkuFacts:
    """One SKU of 1 kg with Poisson demand of `daily` units a ship day."""
    mean = tuple(daily * t for t in range(1, days + 1))
    figures: dict[str, Any] = {
        "net_g": 1000,
        "target_kg": 1.0,
        "spool_part": "SPOOL",
        "packed_with": (),
        "oven_places": 1.0,
        "max_temp_c": 70,
        "shelf": 0,
        "order_up_to": 10,
        "late": 0,
        "due": (0,) * days,
        "mean": mean,
        "variance": mean,
    }
    return SkuFacts(code=f"{filament_code}-{size}", filament=filament_code, **(figures | fields))


def line(code: str = "L1", *, makes: tuple[str, ...], **fields: Any) -> LineFacts:
    figures: dict[str, Any] = {
        "holds": None,
        "extruder_kg_h": 3.0,
        "start_up_min": 10.0,
        "scrap_share": 0.0,
        "availability": 1.0,
        "runs_unattended": False,
        "rates": dict.fromkeys(makes, (1, 60.0)),
    }
    return LineFacts(code=code, **(figures | fields))


def facts(*, codes: tuple[str, ...] = ("A", "B"), days: int = 8, list_days: int = 3, **fields: Any) -> PlanFacts:
    """One line that makes filaments `codes`, each with one SKU of 1 kg."""
    axis = ship_days(days)
    figures: dict[str, Any] = {
        "as_of": MONDAY,
        "first_day": axis[0],
        "last_day": axis[list_days - 1],
        "days": axis,
        "calendar": calendar(),
        "skus": tuple(sku(code, days=days) for code in codes),
        "filaments": tuple(filament(code) for code in codes),
        "materials": (material(),),
        "lines": (line(makes=codes),),
        "changeover_rule": RULE,
        "parameters": PlanParameters(),
    }
    return PlanFacts(**(figures | fields))
