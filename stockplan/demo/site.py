"""Lines, dryers, ovens and working time of the demo plant. Every figure is invented plant data, never advice."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, timedelta

import pandas as pd

from stockplan.demo.catalogue import Catalogue
from stockplan.demo.timeline import CUT_OFF, FRIDAY, HOLIDAY_COUNTRY, PICK_UP, ZONE, Timeline

PLANT_NAME = "Quennoldra Strandworks"
PARAMETERS = {
    "name": PLANT_NAME,
    "time_zone": ZONE.key,
    "holiday_country": HOLIDAY_COUNTRY,
    "holiday_subdivision": "",
    "currency": "EUR",
    "target_share": "0.97",
    "holding_rate_per_year": "0.18",
    "review_days": "5",
    "line_hour_cost": "46",
    "min_run_minutes": "45",
    "mass_tolerance_share": "0.025",
    "material_change_min": "45",
    "diameter_change_min": "20",
    "colour_change_min": "14",
    "darker_to_lighter_min": "0.4",
    "purge_kg_per_hour": "6.5",
}
DAY_SHIFTS = (("06:00", "14:00"), ("14:00", "22:00"))
# Two people can change over lines in the morning, one later in the day.
CREW_SIZES = (2, 1)


@dataclass(frozen=True)
class PlantLine:
    """A line: its limits, its hours, and the speed of the strand in m/min by (material, diameter)."""

    code: str
    name: str
    holds: str
    extruder_kg_h: str
    start_up_min: int
    scrap_share: str
    availability: str
    runs_unattended: str
    strands: int
    n_shifts: int
    speed_m_min: dict[tuple[str, str], float]


LINES: tuple[PlantLine, ...] = (
    PlantLine(
        code="EX1",
        name="Twin strand",
        holds="PLA-GAS-175",
        extruder_kg_h="10.8",
        start_up_min=20,
        scrap_share="0.018",
        availability="0.91",
        runs_unattended="no",
        strands=2,
        n_shifts=2,
        speed_m_min={("PLA", "1.75"): 31, ("PLX", "1.75"): 29, ("PETG", "1.75"): 27},
    ),
    PlantLine(
        code="EX2",
        name="Long bath",
        holds="PETG-CHF-175",
        extruder_kg_h="7.6",
        start_up_min=15,
        scrap_share="0.022",
        availability="0.89",
        runs_unattended="no",
        strands=1,
        n_shifts=2,
        speed_m_min={("PLA", "1.75"): 43, ("PLX", "1.75"): 40, ("PETG", "1.75"): 38, ("ASA", "1.75"): 36},
    ),
    PlantLine(
        code="EX3",
        name="Thick strand",
        holds="PLA-TKG-285",
        extruder_kg_h="17.5",
        start_up_min=25,
        scrap_share="0.025",
        availability="0.88",
        runs_unattended="no",
        strands=1,
        n_shifts=1,
        speed_m_min={("PLA", "2.85"): 33, ("PETG", "2.85"): 30, ("PETG", "1.75"): 40, ("ASA", "1.75"): 38},
    ),
    PlantLine(
        code="EX4",
        name="Slow line",
        holds="TPU-GAS-175",
        extruder_kg_h="7.2",
        start_up_min=15,
        scrap_share="0.03",
        availability="0.92",
        runs_unattended="yes",
        strands=1,
        n_shifts=2,
        speed_m_min={
            ("TPU", "1.75"): 21,
            ("TPU", "2.85"): 13,
            ("PA", "1.75"): 34,
            ("PLX", "1.75"): 38,
            ("PLA", "1.75"): 38,
        },
    ),
)
DRYERS = (("DRY-A", "Dryer at the twin strand"), ("DRY-B", "Dryer at the slow line"))
# code, dryer, capacity in kg, refilled while it feeds, cleaning in min, what it holds
HOPPERS = (
    ("DRY-A1", "DRY-A", "160.00", "yes", 30, "PLA"),
    ("DRY-A2", "DRY-A", "120.00", "no", 20, "PLA"),
    ("DRY-A3", "DRY-A", "120.00", "no", 20, "PETG"),
    ("DRY-A4", "DRY-A", "90.00", "no", 20, "PLA"),
    ("DRY-B1", "DRY-B", "140.00", "yes", 30, "PETG"),
    ("DRY-B2", "DRY-B", "120.00", "no", 20, "PLX"),
    ("DRY-B3", "DRY-B", "75.00", "no", 15, "TPU"),
    ("DRY-B4", "DRY-B", "75.00", "no", 15, "ASA"),
    ("DRY-B5", "DRY-B", "60.00", "no", 15, ""),
)
# Dryers start by a timer at night, so that the morning shift finds dry resin.
DRYING_HOURS_BEFORE_MORNING = 10
OVENS = (("OVEN-48", "Large oven", 280, 48), ("OVEN-64", "Small oven", 140, 64))
# Seven carts of forty spools fill the large oven, and three are under way.
CARTS = tuple(f"CART-{number:02d}" for number in range(1, 11))
CHANNELS = (
    ("HERON", "Web shop", "yes"),
    ("LATTICE", "Dealer portal", "yes"),
    ("QUAY", "Counter", "no"),
    ("BENCH", "Own printing room", "no"),
)
# Light after dark that cleans worse than the general rule says, and natural after black by purging natural.
HARD_CHANGES = (("GAS", "CHF", 75, "9.500"), ("GAS", "NAT", 68, "8.000"), ("INK", "MOL", 70, "8.600"))


def parameter_rows() -> pd.DataFrame:
    """Parameters in the columns of the plant file."""
    return pd.DataFrame(list(PARAMETERS.items()), columns=["key", "value"])


def work_day_rows() -> pd.DataFrame:
    """The clock of the five working days; ovens are filled at the end of the late shift and emptied in the morning."""
    cut_off, pick_up = f"{CUT_OFF:%H:%M}", f"{PICK_UP:%H:%M}"
    rows = [(day, cut_off, pick_up, "21:15", "06:30", "10:15", 460) for day in range(FRIDAY + 1)]
    names = ["weekday", "cut_off", "pick_up", "oven_load_at", "pack_from", "shelf_ready", "pack_spools"]
    return pd.DataFrame(rows, columns=names)


def closure_rows(timeline: Timeline) -> pd.DataFrame:
    """Closures in the columns of the plant file."""
    return pd.DataFrame([(day.isoformat(), why) for day, why in timeline.closures.items()], columns=["day", "reason"])


def line_rows() -> pd.DataFrame:
    """Lines in the columns of the plant file."""
    fields = ["code", "name", "holds", "extruder_kg_h", "start_up_min", "scrap_share", "availability"]
    frame = pd.DataFrame([{name: getattr(line, name) for name in [*fields, "runs_unattended"]} for line in LINES])
    return frame.assign(is_active="yes")


def line_speed_rows(catalogue: Catalogue) -> pd.DataFrame:
    """A row for each filament that a line can make."""
    made = list(zip(*(catalogue.filaments[name] for name in ("code", "material", "diameter")), strict=True))
    rows = [
        (line.code, code, f"{line.speed_m_min[material, diameter]:.2f}", line.strands)
        for line in LINES
        for code, material, diameter in made
        if (material, diameter) in line.speed_m_min
    ]
    return pd.DataFrame(rows, columns=["line", "filament", "speed_m_min", "strands"])


def changeover_rows(catalogue: Catalogue) -> pd.DataFrame:
    """The pairs of which this plant knows better than its general rule."""
    made = set(catalogue.filaments["code"])
    pairs = [
        ("", f"{material}-{dark}-175", f"{material}-{light}-175", minutes, purge_kg)
        for material in ("PLA", "PLX", "PETG", "ASA")
        for dark, light, minutes, purge_kg in HARD_CHANGES
    ]
    # Rinsing flexible resin out with rigid resin takes longer than any other change of material.
    pairs += [("EX4", "TPU-GAS-175", f"PA-{colour}-175", 95, "11.000") for colour in ("GAS", "CHF", "NAT")]
    rows = [pair for pair in pairs if {pair[1], pair[2]} <= made]
    return pd.DataFrame(rows, columns=["line", "from_filament", "to_filament", "minutes", "purge_kg"])


def dryer_rows() -> pd.DataFrame:
    """Dryers in the columns of the plant file."""
    return pd.DataFrame(DRYERS, columns=["code", "name"])


def hopper_rows(timeline: Timeline) -> pd.DataFrame:
    """Hoppers; those that hold a material began to dry it in the night before the demo's morning."""
    dried_since = (timeline.as_of.astimezone(UTC) - timedelta(hours=DRYING_HOURS_BEFORE_MORNING)).isoformat()
    names = ["code", "dryer", "capacity_kg", "is_continuous", "clean_min", "holds_material"]
    frame = pd.DataFrame(HOPPERS, columns=names)
    return frame.assign(dried_since=[dried_since if held else "" for held in frame["holds_material"]])


def oven_rows() -> pd.DataFrame:
    """Ovens in the columns of the plant file."""
    return pd.DataFrame(OVENS, columns=["code", "name", "places", "temperature_c"])


def cart_rows() -> pd.DataFrame:
    """Carts in the columns of the plant file."""
    return pd.DataFrame(CARTS, columns=["code"])


def channel_rows() -> pd.DataFrame:
    """Channels in the columns of the plant file."""
    return pd.DataFrame(CHANNELS, columns=["code", "name", "hides_unavailable"])


def shift_rows() -> pd.DataFrame:
    """Shifts in the columns of the plant file."""
    rows = [
        (line.code, day, start, end)
        for line in LINES
        for day in range(FRIDAY + 1)
        for start, end in DAY_SHIFTS[: line.n_shifts]
    ]
    return pd.DataFrame(rows, columns=["line", "weekday", "start", "end"])


def crew_rows() -> pd.DataFrame:
    """Crews in the columns of the plant file."""
    rows = [
        (day, start, end, size)
        for day in range(FRIDAY + 1)
        for (start, end), size in zip(DAY_SHIFTS, CREW_SIZES, strict=True)
    ]
    return pd.DataFrame(rows, columns=["weekday", "start", "end", "size"])
