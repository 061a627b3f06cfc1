"""What lies in the plant on the demo's morning: spools near what they should be, resin for weeks, a little missing."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

from stockplan.demo.capacity import WINDOW_WEEKS, line_load, ship_days_per_week, weekly_kg
from stockplan.demo.catalogue import Catalogue
from stockplan.demo.colours import COLOURS, RETIRED
from stockplan.demo.materials import MATERIALS, SIZES
from stockplan.demo.orders import SHORT_FILAMENTS
from stockplan.demo.popularity import sku_traits
from stockplan.demo.timeline import Timeline

COLUMNS = ["item", "place", "lot", "supplier_lot", "quantity"]
RECENT_WEEKS = 26
LEAD_DAYS = 3.0
SAFETY_DEVIATIONS = 1.6
# Spread of the demand of a day against its mean: baskets and dealers buy in clumps.
VARIANCE_PER_MEAN = 2.6
SHORT_COVER_DAYS = 0.4
RESIN_WEEKS = 5.0
CONCENTRATE_WEEKS = 9.0
PART_WEEKS = 6.0
LOT_RESIN_KG = 350.0
LEAST_KG = 2.0
# Nearly used up: runs that need them cannot start before the next delivery.
SHORT_ITEMS = {"CC-EMB": 0.12, "RESIN-PA": 6.5}


def opening_rows(
    catalogue: Catalogue, *, lines: pd.DataFrame, timeline: Timeline, rng: np.random.Generator
) -> pd.DataFrame:
    """Opening stock in the columns of the plant file: shelf first, then the resin and parts store."""
    shelf = _shelf_rows(catalogue, lines=lines, timeline=timeline, rng=rng)
    return pd.concat([shelf, _store_rows(catalogue, lines=lines, rng=rng)], ignore_index=True)


def _shelf_rows(
    catalogue: Catalogue, *, lines: pd.DataFrame, timeline: Timeline, rng: np.random.Generator
) -> pd.DataFrame:
    """One lot of spools a SKU. All sizes of a filament were wound in the same run, some days of its interval ago."""
    traits = sku_traits(catalogue)
    per_day = _recent_per_ship_day(traits, lines=lines, timeline=timeline)
    interval = line_load(catalogue, lines=lines, timeline=timeline).interval_weeks
    interval_days = traits["filament"].map(interval).to_numpy() * ship_days_per_week(timeline)
    passed = pd.Series(rng.uniform(0.0, 0.92, len(interval)), index=interval.index)
    cover_days = LEAD_DAYS + interval_days * (1 - traits["filament"].map(passed).to_numpy())
    target_days = LEAD_DAYS + interval_days
    spools = per_day * cover_days + SAFETY_DEVIATIONS * np.sqrt(VARIANCE_PER_MEAN * per_day * target_days)
    spools = np.where(traits["filament"].isin(SHORT_FILAMENTS), per_day * SHORT_COVER_DAYS, spools)
    spools = np.where(traits["is_stocked"] == "yes", np.floor(spools), 0).astype(int)
    frame = pd.DataFrame({"item": traits["code"], "place": "shelf", "supplier_lot": "", "quantity": spools})
    frame["lot"] = "OPEN-" + traits["code"]
    return frame.loc[frame["quantity"] > 0, COLUMNS]


def _recent_per_ship_day(traits: pd.DataFrame, *, lines: pd.DataFrame, timeline: Timeline) -> np.ndarray:
    """Spools a ship day in the last half year, or since the launch."""
    recent = lines[lines["day"] > lines["day"].max() - 7 * RECENT_WEEKS]
    sold = recent.groupby("sku")["quantity"].sum().reindex(range(len(traits)), fill_value=0).to_numpy()
    age_days = (pd.Timestamp(timeline.last_day) - pd.to_datetime(traits["active_from"])).dt.days + 1
    weeks = np.minimum(age_days.to_numpy() / 7, RECENT_WEEKS)
    per_day: np.ndarray = sold / (weeks * ship_days_per_week(timeline))
    return per_day


def _store_rows(catalogue: Catalogue, *, lines: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    kg = weekly_kg(catalogue, lines=lines)
    needs = [*_resin_kg(catalogue, kg=kg).items(), *_concentrate_kg(catalogue, kg=kg).items()]
    rows = [row for item, amount in needs for row in _resin_lots(item, SHORT_ITEMS.get(item, amount), rng=rng)]
    rows += [
        (item, f"{item}-1", f"P{rng.integers(10000, 99999)}", str(n)) for item, n in _parts(catalogue, lines=lines)
    ]
    frame = pd.DataFrame(rows, columns=["item", "lot", "supplier_lot", "quantity"]).assign(place="resin_store")
    return frame[COLUMNS]


def _resin_kg(catalogue: Catalogue, *, kg: pd.Series) -> dict[str, float]:
    by_material = kg.groupby(catalogue.filaments["material"].to_numpy()).sum()
    return {f"RESIN-{m.code}": RESIN_WEEKS * float(by_material[m.code]) for m in MATERIALS}


def _concentrate_kg(catalogue: Catalogue, *, kg: pd.Series) -> dict[str, float]:
    by_colour = kg.groupby(catalogue.filaments["colour"].to_numpy()).sum()
    return {
        f"CC-{colour.code}": max(
            CONCENTRATE_WEEKS * float(by_colour[colour.code]) * float(colour.let_down_share), LEAST_KG
        )
        for colour in COLOURS
        if colour.let_down_share and colour.code != RETIRED
    }


def _resin_lots(item: str, kg: float, *, rng: np.random.Generator) -> list[tuple[str, str, str, str]]:
    """Split a stock into lots of equal mass, no larger than a delivery."""
    n_lots = max(1, math.ceil(kg / LOT_RESIN_KG))
    each = f"{kg / n_lots:.3f}"
    return [(item, f"{item}-{n + 1}", _mark("S", rng), each) for n in range(n_lots)]


def _mark(letter: str, rng: np.random.Generator) -> str:
    """Invent the supplier's own mark of a lot."""
    return f"{letter}{rng.integers(10000, 99999)}"


def _parts(catalogue: Catalogue, *, lines: pd.DataFrame) -> list[tuple[str, int]]:
    """Empty spools, boxes and desiccant for some weeks of sales, in whole hundreds."""
    traits = sku_traits(catalogue)
    recent = lines[lines["day"] > lines["day"].max() - 7 * WINDOW_WEEKS]
    per_week = recent.groupby(traits["spool_size"].to_numpy()[recent["sku"]])["quantity"].sum() / WINDOW_WEEKS
    pieces: dict[str, float] = {}
    for size in SIZES:
        for item in (f"SPOOL-{size.net_g}", size.box, "DESICCANT-5G"):
            pieces[item] = pieces.get(item, 0.0) + PART_WEEKS * float(per_week[size.code])
    return [(item, 100 * math.ceil(amount / 100)) for item, amount in pieces.items()]
