"""Does the demo plant fit its demand? Ovens and dryers beside the lines, and the report that says so."""

from __future__ import annotations

import pandas as pd

from stockplan.demo.capacity import WINDOW_WEEKS, line_load, ship_days_per_week, weekly_kg
from stockplan.demo.catalogue import Catalogue
from stockplan.demo.materials import MATERIALS, SIZES
from stockplan.demo.popularity import sku_traits
from stockplan.demo.site import DRYERS, HOPPERS, LINES, OVENS
from stockplan.demo.timeline import Timeline

WORKING_H = 16.0


def oven_loads(catalogue: Catalogue, *, lines: pd.DataFrame, timeline: Timeline) -> pd.DataFrame:
    """Oven places used on a mean working day of the last year, one load an oven and night."""
    traits = sku_traits(catalogue)
    oven = traits["material"].map({m.code: _oven_of(m.spool_dry_c) for m in MATERIALS}).to_numpy()
    places = traits["spool_size"].map({size.code: size.oven_places for size in SIZES}).to_numpy()
    recent = lines[lines["day"] > lines["day"].max() - 7 * WINDOW_WEEKS]
    used = pd.Series(recent["quantity"].to_numpy() * places[recent["sku"]]).groupby(oven[recent["sku"]]).sum()
    table = pd.DataFrame(
        {
            "used": used / WINDOW_WEEKS / ship_days_per_week(timeline),
            "available": {code: n for code, _, n, _ in OVENS},
        }
    )
    return table.assign(load_share=table["used"] / table["available"])


def _oven_of(spool_dry_c: tuple[int, int]) -> str:
    """Name the oven whose temperature lies in the range of a material's spools."""
    return next(code for code, _, _, celsius in OVENS if spool_dry_c[0] <= celsius <= spool_dry_c[1])


def dryer_loads(catalogue: Catalogue, *, lines: pd.DataFrame, timeline: Timeline) -> pd.DataFrame:
    """Resin used on a mean working day against what the hoppers can give in `WORKING_H`, by dryer.

    A hopper that is refilled while it feeds gives its content in every drying time. Any other dries, then feeds a
    line of mean throughput until it is empty. The work is shared by the dryers as their capacity is; purge and scrap
    come on top.
    """
    kg = weekly_kg(catalogue, lines=lines) / ship_days_per_week(timeline)
    dry_h = catalogue.filaments["material"].map({m.code: m.resin_dry_hours for m in MATERIALS}).to_numpy()
    mean_dry_h = float((kg * dry_h).sum() / kg.sum())
    feed_kg_h = sum(float(line.extruder_kg_h) for line in LINES) / len(LINES)
    available = pd.Series(0.0, index=[code for code, _ in DRYERS])
    for _, dryer, content, refilled, *_ in HOPPERS:
        content_kg = float(content)
        cycle_h = mean_dry_h if refilled == "yes" else mean_dry_h + content_kg / feed_kg_h
        available[dryer] += content_kg * WORKING_H / cycle_h
    used = available / available.sum() * float(kg.sum())
    return pd.DataFrame({"used": used, "available": available, "load_share": used / available})


def capacity_report(catalogue: Catalogue, *, lines: pd.DataFrame, timeline: Timeline) -> str:
    """Say in a table how busy the plant is in a mean week of the last year."""
    load = line_load(catalogue, lines=lines, timeline=timeline)
    total = load.lines[["run_h", "changeover_h"]].to_numpy().sum() / load.lines["attended_h"].sum()
    parts = [
        "Lines, hours a week (start-up counts as changeover):",
        load.lines.round(3).to_string(),
        f"All lines: {total:.1%} of attended time. Mean run interval {load.interval_weeks.mean():.1f} weeks.",
        "Ovens, places a night:",
        oven_loads(catalogue, lines=lines, timeline=timeline).round(3).to_string(),
        "Dryers, kg a working day:",
        dryer_loads(catalogue, lines=lines, timeline=timeline).round(3).to_string(),
    ]
    return "\n".join(parts)
