"""A plant to drive the service with: true demand that only the simulation knows, written as plant files.

Invented figures, chosen so that changeovers take 10 to 85 minutes and the lines are busy as asked. It is not the demo
plant: other materials, sizes and lines, so that nothing can lean on the demo.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

ZONE = ZoneInfo("Europe/Berlin")
CUT_OFF = time(11, 30)
LINES = 4
SHIFT_BEGINS = 6
LINE_SPEED_M_MIN = 70.0
SIZES_KG = {"S025": 0.25, "S100": 1.0, "S250": 2.5}
WEEKDAY_SHAPE = np.array([1.25, 1.05, 0.95, 0.9, 0.85])
MATERIALS = {"ALPHA": 1.24, "BETA": 1.27, "GAMMA": 1.04, "DELTA": 1.21}
AREA_CM2 = np.pi / 4 * 0.175**2


@dataclass(frozen=True)
class SimulatedPlant:
    """What the simulation knows of the plant that it wrote.

    Attributes
    ----------
    skus
        Index SKU code; columns filament, size, net_kg, rate (units per ship day), popularity.
    days
        Ship days of the history, in order.
    load
        Minutes of winding that mean demand asks for, over the minutes of all shifts.
    shift_hours
        Working hours of every line on every weekday, from `SHIFT_BEGINS` on.
    """

    directory: Path
    skus: pd.DataFrame
    days: list[date]
    load: float
    shift_hours: int
    first_simulated_day: date


@dataclass(frozen=True)
class Season:
    """Ship days on which there are `factor` (1 to 2) times as many orders."""

    first: date
    last: date
    factor: float


def write_simulated_plant(
    directory: Path,
    *,
    load: float,
    seed: int,
    filaments: int = 80,
    skus: int = 172,
    shift_hours: int = 16,
    history_days: int = 300,
    stock_days: float = 8.0,
    last_day: date = date(2026, 6, 5),
    season: Season | None = None,
) -> SimulatedPlant:
    """Write the files of a plant whose mean demand fills `load` of the lines' minutes.

    The shorter the shifts, the fewer changeovers a day has room for at the same load, and the rarer each filament runs.
    """
    rng = np.random.default_rng(seed)
    directory.mkdir(parents=True, exist_ok=True)
    catalogue = _catalogue(rng, filaments=filaments, skus=skus, line_min=load * LINES * shift_hours * 60)
    days = _ship_days(last_day, history_days)
    _write_rules(directory, shift_end=f"{SHIFT_BEGINS + shift_hours}:00")
    _write_catalogue(directory, catalogue)
    _write_lines(directory, catalogue)
    _write_orders(directory, catalogue, days, rng, season=season)
    _write_opening(directory, catalogue, stock_days)
    monday = _ship_days(last_day + timedelta(days=7), 5)[0]
    return SimulatedPlant(directory, catalogue, days, load, shift_hours, monday)


def draw_orders(catalogue: pd.DataFrame, day: date, rng: np.random.Generator) -> list[tuple[datetime, dict[str, int]]]:
    """Draw the orders that are due on one ship day: (received at, units by SKU), in order of receipt.

    Baskets of one to three lines; line sizes geometric. Two thirds arrive on the morning of the day, the
    rest after the cut-off of the ship day before.
    """
    weight = catalogue["rate"].to_numpy() / catalogue["units_per_line"].to_numpy()
    lines_per_order = 1.6
    orders = rng.poisson(weight.sum() / lines_per_order * WEEKDAY_SHAPE[day.weekday()])
    drawn = []
    for _ in range(orders):
        count = min(1 + rng.poisson(lines_per_order - 1), 5)
        chosen = rng.choice(len(catalogue), size=count, replace=False, p=weight / weight.sum())
        basket = {str(catalogue.index[i]): int(rng.geometric(1 / catalogue["units_per_line"].iloc[i])) for i in chosen}
        drawn.append((_received_at(day, rng), basket))
    return sorted(drawn, key=lambda order: order[0])


def _received_at(day: date, rng: np.random.Generator) -> datetime:
    if rng.random() < 2 / 3:
        minute = rng.integers(0, 11 * 60 + 29)
        return datetime.combine(day, time(0), tzinfo=ZONE) + timedelta(minutes=int(minute))
    back = 3 if day.weekday() == 0 else 1
    evening = datetime.combine(day - timedelta(days=back), time(12), tzinfo=ZONE)
    return evening + timedelta(minutes=int(rng.integers(0, 11 * 60)))


def _ship_days(last_day: date, count: int) -> list[date]:
    days: list[date] = []
    day = last_day
    while len(days) < count:
        if day.weekday() < 5:
            days.append(day)
        day -= timedelta(days=1)
    return days[::-1]


def _catalogue(rng: np.random.Generator, *, filaments: int, skus: int, line_min: float) -> pd.DataFrame:
    per_material = filaments // len(MATERIALS)
    made = [f"{material}-C{i:02d}" for material in MATERIALS for i in range(per_material)]
    rows = [(f"{filament}-S100", filament, "S100") for filament in made]
    extra = [(f"{f}-{size}", f, size) for f in made for size in ("S025", "S250")]
    rows += [extra[i] for i in rng.permutation(len(extra))[: skus - len(rows)]]
    frame = pd.DataFrame(rows, columns=["sku", "filament", "size"]).set_index("sku").sort_index()
    frame["net_kg"] = frame["size"].map(SIZES_KG)
    popularity = dict(zip(made, rng.lognormal(0, 1.1, len(made)), strict=True))
    share = {"S100": 1.0, "S025": 0.6, "S250": 0.25}
    frame["units_per_line"] = np.where(frame["size"] == "S100", 2.0, 1.4)
    frame["rate"] = frame["filament"].map(popularity) * frame["size"].map(share)
    minutes = (frame["rate"] * frame["net_kg"] / _kg_per_minute(frame)).sum()
    frame["rate"] *= line_min / minutes
    return frame


def _kg_per_minute(frame: pd.DataFrame) -> pd.Series:
    density = frame["filament"].str.split("-").str[0].map(MATERIALS)
    return LINE_SPEED_M_MIN * 100 * AREA_CM2 * density / 1000 * 0.98 * 0.92


def _csv(directory: Path, name: str, rows: list[dict[str, object]]) -> None:
    pd.DataFrame(rows).to_csv(directory / f"{name}.csv", index=False, lineterminator="\n")


def _write_rules(directory: Path, *, shift_end: str) -> None:
    values = {
        "name": "Simulated plant", "time_zone": "Europe/Berlin", "holiday_country": "", "holiday_subdivision": "",
        "target_share": "0.97", "holding_rate_per_year": "0.2", "review_days": 1, "line_hour_cost": "40",
        "min_run_minutes": 20, "mass_tolerance_share": "0.05", "material_change_min": 50, "diameter_change_min": 20,
        "colour_change_min": 10, "darker_to_lighter_min": "0.3", "purge_kg_per_hour": "6",
    }  # fmt: skip
    _csv(directory, "parameters", [{"key": k, "value": v} for k, v in values.items()])
    _csv(directory, "work_days", [
        {"weekday": d, "cut_off": "11:30", "pick_up": "15:00", "oven_load_at": "21:30", "pack_from": "06:00",
         "shelf_ready": "08:00", "pack_spools": 2000} for d in range(5)
    ])  # fmt: skip
    _csv(directory, "channels", [{"code": "WEB", "name": "Web", "hides_unavailable": "false"}])
    _csv(directory, "shifts", [
        {"line": f"L{i}", "weekday": d, "start": "06:00", "end": shift_end}
        for i in range(1, LINES + 1) for d in range(5)
    ])  # fmt: skip
    _csv(directory, "crews", [{"weekday": d, "start": "06:00", "end": shift_end, "size": LINES} for d in range(5)])


def _write_catalogue(directory: Path, frame: pd.DataFrame) -> None:
    made = sorted(frame["filament"].unique())
    colours = sorted({f.split("-")[1] for f in made})
    items = [{"code": f"RESIN-{m}", "name": f"Resin {m}", "kind": "resin", "unit": "kg"} for m in MATERIALS]
    items += [{"code": f"CONC-{c}", "name": f"Concentrate {c}", "kind": "concentrate", "unit": "kg"} for c in colours]
    items += [{"code": f"SPOOL-{s}", "name": f"Spool {s}", "kind": "spool_part", "unit": "piece"} for s in SIZES_KG]
    _csv(directory, "items", [item | {"lead_time_days": 5} for item in items])
    _csv(directory, "materials", [
        {"code": m, "name": m.title(), "density_g_cm3": d, "resin_item": f"RESIN-{m}", "resin_dry_min_c": 50,
         "resin_dry_max_c": 70, "resin_dry_hours": 4, "dried_keeps_hours": 24, "spool_dry_min_c": 45,
         "spool_dry_max_c": 60, "spool_dry_hours": 6} for m, d in MATERIALS.items()
    ])  # fmt: skip
    lightness = np.linspace(15, 95, len(colours))
    _csv(directory, "colours", [
        {"code": c, "name": f"Colour {c}", "hex": f"#{int(v * 2.55):02X}{int(v * 2.55):02X}{int(v * 2.55):02X}",
         "lab_l": f"{v:.2f}", "concentrate_item": f"CONC-{c}", "let_down_share": "0.02"}
        for c, v in zip(colours, lightness, strict=True)
    ])  # fmt: skip
    _csv(directory, "diameters", [{"nominal_mm": "1.75", "tolerance_mm": "0.040"}])
    _csv(directory, "spool_sizes", [
        {"code": s, "net_g": int(kg * 1000), "give_away_g": 0, "tare_g": 200, "spool_part": f"SPOOL-{s}",
         "box_item": "", "max_temp_c": 70, "oven_places": kg} for s, kg in SIZES_KG.items()
    ])  # fmt: skip
    _csv(directory, "filaments", [
        {"code": f, "material": f.split("-")[0], "colour": f.split("-")[1], "diameter": "1.75"} for f in made
    ])  # fmt: skip
    _csv(directory, "skus", [
        {"code": code, "name": f"{row.filament} {row.net_kg:g} kg", "gtin": "", "filament": row.filament,
         "spool_size": row["size"], "is_stocked": "true", "value": f"{12 * row.net_kg:.2f}",
         "active_from": "2020-01-01", "active_to": "", "shelf_place": ""} for code, row in frame.iterrows()
    ])  # fmt: skip


def _write_lines(directory: Path, frame: pd.DataFrame) -> None:
    made = sorted(frame["filament"].unique())
    _csv(directory, "lines", [
        {"code": f"L{i}", "name": f"Line {i}", "holds": made[(i - 1) * 20 % len(made)], "extruder_kg_h": 40,
         "start_up_min": 0, "scrap_share": "0.02", "availability": "0.92", "runs_unattended": "false",
         "is_active": "true"} for i in range(1, LINES + 1)
    ])  # fmt: skip
    _csv(directory, "line_speeds", [
        {"line": f"L{i}", "filament": f, "speed_m_min": LINE_SPEED_M_MIN, "strands": 1}
        for i in range(1, LINES + 1) for f in made
    ])  # fmt: skip
    _csv(directory, "dryers", [{"code": "D1", "name": "Dryer 1"}])
    _csv(directory, "hoppers", [
        {"code": f"H{i}", "dryer": "D1", "capacity_kg": 400, "is_continuous": "true", "clean_min": 15,
         "holds_material": "", "dried_since": ""} for i in range(1, 9)
    ])  # fmt: skip
    _csv(directory, "ovens", [
        {"code": f"O{i}", "name": f"Oven {i}", "places": 1000, "temperature_c": 50} for i in range(1, 3)
    ])  # fmt: skip


def _write_orders(
    directory: Path, frame: pd.DataFrame, days: list[date], rng: np.random.Generator, *, season: Season | None
) -> None:
    rows: list[dict[str, object]] = []
    for day in days:
        drawn = draw_orders(frame, day, rng)
        if season is not None and season.first <= day <= season.last:
            more = draw_orders(frame, day, rng)
            drawn = sorted([*drawn, *more[: int(len(more) * (season.factor - 1))]], key=lambda order: order[0])
        for received_at, basket in drawn:
            reference = f"H{len(rows):07d}"
            rows += [
                {"channel": "WEB", "reference": reference, "kind": "regular",
                 "received_at": received_at.astimezone(UTC).isoformat(), "wanted_day": "", "may_part_ship": "false",
                 "line_no": n, "sku": sku, "quantity": units, "shipped_day": day.isoformat(), "cancelled_by": ""}
                for n, (sku, units) in enumerate(basket.items(), start=1)
            ]  # fmt: skip
    _csv(directory, "orders", rows)


def _write_opening(directory: Path, frame: pd.DataFrame, stock_days: float) -> None:
    rows: list[dict[str, object]] = [
        {"item": code, "place": "shelf", "lot": f"OPEN-{code}", "supplier_lot": "",
         "quantity": int(np.ceil(row.rate * stock_days)) + 1} for code, row in frame.iterrows()
    ]  # fmt: skip
    bulk = [f"RESIN-{m}" for m in MATERIALS]
    bulk += [f"CONC-{c}" for c in sorted({f.split("-")[1] for f in frame["filament"]})]
    bulk += [f"SPOOL-{s}" for s in SIZES_KG]
    rows += [
        {"item": code, "place": "resin_store", "lot": f"OPEN-{code}", "supplier_lot": "", "quantity": 9_000_000}
        for code in bulk
    ]
    _csv(directory, "opening_stock", rows)
