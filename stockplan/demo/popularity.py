"""What is wanted when: the share of the order lines of each SKU, by week and channel."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from stockplan.demo.catalogue import LAUNCHES, RETIRED_WEEKS_AGO, Catalogue
from stockplan.demo.materials import SIZES
from stockplan.demo.timeline import N_WEEKS, Timeline

# Pull of the sizes on each channel: the shop window sells small spools, dealers and the counter take larger ones.
SIZE_PULL = {
    "HERON": (1.35, 1.15, 1.00, 0.70, 0.55, 0.40),
    "LATTICE": (0.30, 0.70, 1.00, 1.60, 1.90, 2.20),
    "QUAY": (1.20, 1.30, 1.00, 0.60, 0.30, 0.10),
    "BENCH": (0.20, 0.60, 1.00, 1.80, 0.40, 0.00),
}
# Week of the year in which a material sells best, and by how much it swings to either side.
SEASON_PEAK = {"ASA": (16, 0.45), "PA": (38, 0.15), "TPU": (47, 0.20), "PLA": (48, 0.12), "PLX": (46, 0.12)}
WEEKS_PER_YEAR = 365.25 / 7
# A launch sells double at first and settles within about two months; a colour on its way out fades.
LAUNCH_EXTRA = 1.2
LAUNCH_DECAY_WEEKS = 4.0
FADE_WEEKS = 8
FADED_TO = 0.45


@dataclass(frozen=True)
class Popularity:
    """Cumulated shares to draw SKUs from.

    Attributes
    ----------
    cumulated
        Shape (group, SKU + 1), group = week * channels + channel; each row rises from 0 to 1. SKUs stand in the
        order of `order`, so that those of one family (material, diameter, size) are neighbours.
    order
        Position in the catalogue of each SKU of that order.
    family_first, family_end
        By SKU of that order: where its family begins and ends in `cumulated`.
    """

    cumulated: np.ndarray
    order: np.ndarray
    family_first: np.ndarray
    family_end: np.ndarray


def build_popularity(catalogue: Catalogue, *, timeline: Timeline) -> Popularity:
    """Lay the shares of all SKUs out by week and channel."""
    traits = sku_traits(catalogue)
    family = traits.groupby(["material", "diameter", "spool_size"], sort=True).ngroup().to_numpy()
    order = np.argsort(family, kind="stable")
    sorted_family = family[order]
    by_week = catalogue.weight * _week_factors(traits, timeline=timeline)
    by_group = by_week[:, np.newaxis, :] * _channel_factors(traits)[np.newaxis, :, :]
    shares = by_group.reshape(-1, len(traits))[:, order]
    shares /= shares.sum(axis=1, keepdims=True)
    return Popularity(
        cumulated=np.hstack([np.zeros((len(shares), 1)), np.cumsum(shares, axis=1)]),
        order=order,
        family_first=np.searchsorted(sorted_family, sorted_family, side="left"),
        family_end=np.searchsorted(sorted_family, sorted_family, side="right"),
    )


def sku_traits(catalogue: Catalogue) -> pd.DataFrame:
    """Material, diameter, colour, size and net mass of each SKU, in the order of the catalogue."""
    skus = catalogue.skus[["code", "filament", "spool_size", "active_from", "active_to", "is_stocked"]]
    filaments = catalogue.filaments.rename(columns={"code": "filament"})
    traits = skus.merge(filaments, on="filament", how="left", validate="many_to_one")
    return traits.assign(net_g=traits["spool_size"].map({size.code: size.net_g for size in SIZES}))


def _channel_factors(traits: pd.DataFrame) -> np.ndarray:
    rank = traits["spool_size"].map({size.code: n for n, size in enumerate(SIZES)}).to_numpy()
    return np.array([np.asarray(pull)[rank] for pull in SIZE_PULL.values()])


def _week_factors(traits: pd.DataFrame, *, timeline: Timeline) -> np.ndarray:
    """Season of the material, the life of the SKU, 0 outside of it; shape (week, SKU)."""
    week = np.arange(N_WEEKS)[:, np.newaxis]
    week_of_year = timeline.first_day.timetuple().tm_yday / 7 + week
    peak = np.array([SEASON_PEAK.get(material, (0, 0.0)) for material in traits["material"]])
    season = 1 + peak[:, 1] * np.cos(2 * np.pi * (week_of_year - peak[:, 0]) / WEEKS_PER_YEAR)
    factors: np.ndarray = season * _launch_factors(traits, week=week) * _retirement_factors(traits, week=week)
    return factors


def _launch_factors(traits: pd.DataFrame, *, week: np.ndarray) -> np.ndarray:
    first_week = N_WEEKS - traits["filament"].map(LAUNCHES).to_numpy(dtype=float)
    age_weeks = week - first_week
    launched = np.where(age_weeks >= 0, 1 + LAUNCH_EXTRA * np.exp(-np.maximum(age_weeks, 0) / LAUNCH_DECAY_WEEKS), 0.0)
    return np.where(np.isnan(first_week), 1.0, launched)


def _retirement_factors(traits: pd.DataFrame, *, week: np.ndarray) -> np.ndarray:
    weeks_left = N_WEEKS - RETIRED_WEEKS_AGO - week
    faded = np.clip(FADED_TO + (1 - FADED_TO) * weeks_left / FADE_WEEKS, 0.0, 1.0)
    return np.where(traits["active_to"].to_numpy() != "", np.where(weeks_left > 0, faded, 0.0), 1.0)
