"""Load of the demo's lines: a mean week, spread over them by a small linear programme."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.optimize import linprog

from inventory.rules.colour import lightness_of_hex
from stockplan.demo.catalogue import Catalogue
from stockplan.demo.colours import COLOURS, RETIRED
from stockplan.demo.materials import MATERIALS, SIZES
from stockplan.demo.popularity import sku_traits
from stockplan.demo.site import LINES, PARAMETERS, PlantLine
from stockplan.demo.timeline import Timeline

WINDOW_WEEKS = 52
SHIFT_H = 8.0
# A filament is run when it has sold about six hours of a line, at least every six weeks, at most every week.
LOT_H = 6.0
INTERVAL_WEEKS = (1.0, 6.0)


@dataclass(frozen=True)
class LineLoad:
    """Use of the lines in a mean week of the last year, after the work was spread evenly over them.

    Attributes
    ----------
    lines
        By line: attended_h, run_h, changeover_h (with start-up), load_share.
    interval_weeks
        By filament: weeks from one run to the next.
    """

    lines: pd.DataFrame
    interval_weeks: pd.Series


def weekly_kg(catalogue: Catalogue, *, lines: pd.DataFrame) -> pd.Series:
    """Kilograms wound in a mean week of the last year by filament, give-away included."""
    traits = sku_traits(catalogue)
    wound_g = traits["net_g"] + traits["spool_size"].map({size.code: size.give_away_g for size in SIZES})
    recent = lines[lines["day"] > lines["day"].max() - 7 * WINDOW_WEEKS]
    kg = recent["quantity"].to_numpy() * wound_g.to_numpy()[recent["sku"]] / 1000 / WINDOW_WEEKS
    by_filament = pd.Series(kg).groupby(traits["filament"].to_numpy()[recent["sku"]]).sum()
    return by_filament.reindex(catalogue.filaments["code"], fill_value=0.0)


def line_load(catalogue: Catalogue, *, lines: pd.DataFrame, timeline: Timeline) -> LineLoad:
    """Spread a mean week over the lines so that the busiest is least busy.

    Runs are as long as `LOT_H` says, and every run pays the start-up and the mean changeover between two filaments
    of its line, as if the sequence were left to chance: a planner does better.
    """
    kg = weekly_kg(catalogue, lines=lines)
    hours = _hours_per_kg(catalogue).mul(kg, axis=0)
    interval = (LOT_H / hours.min(axis=1).clip(lower=1e-9)).clip(*INTERVAL_WEEKS)
    # A retired colour is made no more.
    is_made = kg.to_numpy() * ~catalogue.filaments["colour"].eq(RETIRED).to_numpy() > 0
    hours, overhead = hours.mul(is_made, axis=0), _changeover_h(catalogue).div(interval, axis=0).mul(is_made, axis=0)
    table = _line_loads(hours=hours, overhead=overhead, ship_days=ship_days_per_week(timeline))
    return LineLoad(lines=table, interval_weeks=interval)


def ship_days_per_week(timeline: Timeline) -> float:
    """Working days in a mean week of the last year, holidays and closures taken off."""
    return len(timeline.calendar.ship_days(timeline.weeks_ago(WINDOW_WEEKS), timeline.last_day)) / WINDOW_WEEKS


def kg_per_hour(line: PlantLine, *, material: str, diameter: str) -> float:
    """Throughput of a line: strands x speed x cross-section x density of the solid, at most the extruder's limit.

    NaN where the line cannot make it.
    """
    speed = line.speed_m_min.get((material, diameter))
    if speed is None:
        return float("nan")
    density = next(m.density_g_cm3 for m in MATERIALS if m.code == material)
    area_mm2 = np.pi / 4 * float(diameter) ** 2
    # mm2 x m = cm3; g to kg
    return min(line.strands * speed * 60 * area_mm2 * density / 1000, float(line.extruder_kg_h))


def _hours_per_kg(catalogue: Catalogue) -> pd.DataFrame:
    """Line hours for a good kilogram, by filament (rows) and line; NaN where the line cannot make it."""
    filaments = catalogue.filaments
    kinds = list(zip(filaments["material"], filaments["diameter"], strict=True))
    by_line = {
        line.code: [1 / (kg_per_hour(line, material=m, diameter=d) * _yield_share(line)) for m, d in kinds]
        for line in LINES
    }
    return pd.DataFrame(by_line, index=filaments["code"])


def _yield_share(line: PlantLine) -> float:
    return (1 - float(line.scrap_share)) * float(line.availability)


def _changeover_h(catalogue: Catalogue) -> pd.DataFrame:
    """Hours that a run costs before its first spool: start-up, and the mean changeover from another run of its line."""
    filaments = catalogue.filaments
    by_line = {}
    for line in LINES:
        made = [(m, d) in line.speed_m_min for m, d in zip(filaments["material"], filaments["diameter"], strict=True)]
        minutes = _general_rule_min(filaments)[np.array(made)].mean(axis=0) + line.start_up_min
        by_line[line.code] = minutes / 60
    return pd.DataFrame(by_line, index=filaments["code"])


def _general_rule_min(filaments: pd.DataFrame) -> np.ndarray:
    """Changeover minutes of the general rule, from (rows) to (columns). Materials mix freely here: no sequence yet."""
    light = filaments["colour"].map({c.code: lightness_of_hex(c.hex) for c in COLOURS}).to_numpy()
    rule = {name: float(value) for name, value in PARAMETERS.items() if name.endswith("_min")}
    minutes = rule["colour_change_min"] + rule["darker_to_lighter_min"] * np.maximum(light - light[:, np.newaxis], 0)
    for trait in ("material", "diameter"):
        values = filaments[trait].to_numpy()
        minutes = minutes + rule[f"{trait}_change_min"] * (values != values[:, np.newaxis])
    return minutes


def _line_loads(*, hours: pd.DataFrame, overhead: pd.DataFrame, ship_days: float) -> pd.DataFrame:
    attended = pd.Series({line.code: line.n_shifts * SHIFT_H * ship_days for line in LINES})
    share = _even_shares((hours + overhead).div(attended))
    run_h = (share * hours.fillna(0.0)).sum()
    changeover_h = (share * overhead).sum()
    table = pd.DataFrame({"attended_h": attended, "run_h": run_h, "changeover_h": changeover_h})
    return table.assign(load_share=(table["run_h"] + table["changeover_h"]) / table["attended_h"])


def _even_shares(use: pd.DataFrame) -> pd.DataFrame:
    """Shares of each filament by line that make the busiest line least busy."""
    n_filaments, n_lines = use.shape
    cost = use.fillna(0.0).to_numpy()
    # Variables: share of filament f on line l (f * lines + l), and the load of the busiest line.
    busiest = np.zeros((n_lines, n_filaments * n_lines + 1))
    for line in range(n_lines):
        busiest[line, line:-1:n_lines] = cost[:, line]
    busiest[:, -1] = -1
    whole = np.hstack([np.kron(np.eye(n_filaments), np.ones(n_lines)), np.zeros((n_filaments, 1))])
    bounds = [(0, 0 if np.isnan(value) else 1) for value in use.to_numpy().ravel()] + [(0, None)]
    objective = np.append(np.zeros(n_filaments * n_lines), 1.0)
    found = linprog(
        objective, A_ub=busiest, b_ub=np.zeros(n_lines), A_eq=whole, b_eq=np.ones(n_filaments), bounds=bounds
    )
    if found.x is None:
        raise ValueError(f"A filament has no line that can make it: {found.message}")
    return pd.DataFrame(found.x[:-1].reshape(use.shape), index=use.index, columns=use.columns)
