"""Materials and spool sizes of the demo plant. Setpoints are invented plant data in a plausible range, never advice."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class PlantMaterial:
    """A polymer grade as this plant dries, values and buys it."""

    code: str
    name: str
    density_g_cm3: float
    resin_dry_c: tuple[int, int]
    resin_dry_hours: float
    dried_keeps_hours: float
    spool_dry_c: tuple[int, int]
    spool_dry_hours: float
    value_per_kg: float
    lead_time_days: int


@dataclass(frozen=True)
class PlantSize:
    """A spool size: its masses in grams, its share of the order lines and its parts."""

    code: str
    net_g: int
    give_away_g: int
    tare_g: int
    max_temp_c: int
    oven_places: float
    line_share: float
    box: str


@dataclass(frozen=True)
class Family:
    """A material in one diameter: how many of the colours it comes in, and its share of the order lines."""

    material: str
    nominal_mm: str
    n_colours: int
    line_share: float

    @property
    def suffix(self) -> str:
        """Diameter as it stands in filament codes, hundredths of a millimetre."""
        return self.nominal_mm.replace(".", "")


MATERIALS: tuple[PlantMaterial, ...] = (
    PlantMaterial("PLA", "PLA", 1.24, (62, 74), 3.5, 16, (44, 50), 7.0, 8.6, 12),
    PlantMaterial("PLX", "PLA, impact grade", 1.21, (58, 70), 4.0, 16, (44, 50), 7.5, 11.2, 16),
    PlantMaterial("PETG", "PETG", 1.27, (60, 68), 5.5, 12, (58, 66), 8.0, 9.4, 14),
    PlantMaterial("ASA", "ASA", 1.07, (74, 84), 3.0, 18, (60, 76), 6.5, 12.8, 21),
    PlantMaterial("TPU", "TPU, shore 92 A", 1.20, (78, 90), 3.0, 10, (45, 52), 8.5, 17.5, 24),
    PlantMaterial("PA", "PA 6/66 copolymer", 1.12, (76, 86), 9.0, 8, (62, 80), 9.0, 21.0, 28),
)
SIZES: tuple[PlantSize, ...] = (
    PlantSize("S250", 250, 3, 96, 66, 0.4, 0.13, "BOX-1"),
    PlantSize("S750", 750, 6, 188, 72, 0.8, 0.22, "BOX-1"),
    PlantSize("S1000", 1000, 7, 214, 70, 1.0, 0.42, "BOX-2"),
    PlantSize("S2500", 2500, 14, 402, 80, 2.2, 0.13, "BOX-3"),
    PlantSize("S5000", 5000, 22, 690, 80, 4.0, 0.06, "BOX-4"),
    PlantSize("S10000", 10000, 38, 1180, 82, 7.5, 0.04, "BOX-5"),
)
FAMILIES: tuple[Family, ...] = (
    Family("PLA", "1.75", 34, 0.40),
    Family("PLA", "2.85", 12, 0.09),
    Family("PLX", "1.75", 16, 0.12),
    Family("PETG", "1.75", 24, 0.18),
    Family("PETG", "2.85", 8, 0.05),
    Family("ASA", "1.75", 12, 0.07),
    Family("TPU", "1.75", 8, 0.05),
    Family("TPU", "2.85", 2, 0.01),
    Family("PA", "1.75", 4, 0.03),
)
DIAMETERS: tuple[tuple[str, str], ...] = (("1.75", "0.025"), ("2.85", "0.045"))
# Sizes on offer by rank of the filament among its plant's sellers: first n filaments, then the next n ...
SIZE_TIERS: tuple[tuple[int, tuple[str, ...]], ...] = (
    (17, ("S250", "S750", "S1000", "S2500", "S5000", "S10000")),
    (20, ("S250", "S750", "S1000", "S2500", "S5000")),
    (27, ("S250", "S750", "S1000", "S2500")),
    (46, ("S750", "S1000")),
    (10, ("S1000",)),
)
# Ranked lowest among what is offered in these sizes: kept off the shelf, made to order.
N_MADE_TO_ORDER = 14
