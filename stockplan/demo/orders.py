"""The order table of the demo: two years of outcomes and what is still open on the last day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import time

import numpy as np
import pandas as pd

from stockplan.demo import outcomes
from stockplan.demo.arrivals import HABITS, draw_arrivals
from stockplan.demo.baskets import draw_lines
from stockplan.demo.catalogue import Catalogue
from stockplan.demo.popularity import build_popularity
from stockplan.demo.timeline import Timeline

REFERENCE_PREFIX = {"HERON": "H", "LATTICE": "L", "QUAY": "Q", "BENCH": "B"}
COLUMNS = [
    "channel",
    "reference",
    "kind",
    "received_at",
    "wanted_day",
    "may_part_ship",
    "line_no",
    "sku",
    "quantity",
    "shipped_day",
    "cancelled_by",
]
PROJECT_WEEKS_AGO = 33
PROJECT_HOUR = time(9, 20)
PROJECT_LEAD_DAYS = 37
PROJECT_LINES = (("PLA-GAS-175-10000", 34), ("PLA-GAS-175-05000", 28), ("PLA-CHF-175-05000", 20))
# Filaments that have run short: what was due of them on the last days has not left.
SHORT_FILAMENTS = (
    "PLA-EMB-175",
    "PLA-SLP-175",
    "PETG-FER-175",
    "PETG-TKG-175",
    "PLX-GAS-175",
    "ASA-GAS-175",
    "PA-GAS-175",
    "PLA-CHF-285",
)
SHORT_SHIP_DAYS = 2


@dataclass(frozen=True)
class OrderBook:
    """Orders with their lines as numbers (for stock and capacity) and as rows of the plant file.

    Attributes
    ----------
    lines
        One row a line of regular orders and own use: sku (position in the catalogue), quantity, day of arrival.
    rows
        The order table in the columns of the plant file.
    """

    lines: pd.DataFrame
    rows: pd.DataFrame


def build_order_book(*, catalogue: Catalogue, timeline: Timeline, rng: np.random.Generator) -> OrderBook:
    """Draw the orders, let the stock-out hide some, and settle what became of the rest."""
    orders = draw_arrivals(rng=rng, timeline=timeline)
    popularity = build_popularity(catalogue, timeline=timeline)
    drawn = draw_lines(orders, catalogue=catalogue, popularity=popularity, rng=rng)
    lines = outcomes.hide_stock_out(drawn, orders=orders, catalogue=catalogue)
    orders = outcomes.wish_days(lines, orders=orders, catalogue=catalogue, rng=rng)
    rows = _rows(lines, orders=orders, catalogue=catalogue, timeline=timeline, rng=rng)
    table = pd.concat([rows, _project_rows(catalogue, timeline=timeline)], ignore_index=True)
    day = orders["day"].to_numpy()[lines["order"]]
    return OrderBook(lines=lines.assign(day=day)[["sku", "quantity", "day"]], rows=table[COLUMNS])


def _rows(
    lines: pd.DataFrame, *, orders: pd.DataFrame, catalogue: Catalogue, timeline: Timeline, rng: np.random.Generator
) -> pd.DataFrame:
    header = _header(orders, timeline=timeline, rng=rng)
    rows = header.loc[lines["order"]].reset_index(drop=True)
    rows["line_no"] = lines["line_no"]
    rows["sku"] = catalogue.skus["code"].to_numpy()[lines["sku"]]
    rows["quantity"] = lines["quantity"]
    shipped = _shipped_days(lines, orders=orders, catalogue=catalogue, timeline=timeline, rng=rng)
    return rows.assign(shipped_day=np.where(rows["cancelled_by"] == "", shipped, ""))


def _header(orders: pd.DataFrame, *, timeline: Timeline, rng: np.random.Generator) -> pd.DataFrame:
    channel = pd.Series([habit.code for habit in HABITS])[orders["channel"]].reset_index(drop=True)
    number = orders.groupby("channel").cumcount() + 1
    wanted = pd.Timestamp(timeline.first_day) + pd.to_timedelta(orders["day"] + orders["wanted_after_days"], unit="D")
    return pd.DataFrame(
        {
            "channel": channel,
            "reference": channel.map(REFERENCE_PREFIX) + number.map("{:06d}".format),
            "kind": np.where(channel == "BENCH", "own_use", "regular"),
            "received_at": outcomes.received_at(orders, timeline=timeline),
            "wanted_day": wanted.dt.strftime("%Y-%m-%d").where(orders["wanted_after_days"] > 0, ""),
            "may_part_ship": np.where(orders["may_part_ship"], "yes", "no"),
            "cancelled_by": outcomes.cancellations(orders, rng=rng),
        }
    )


def _shipped_days(
    lines: pd.DataFrame, *, orders: pd.DataFrame, catalogue: Catalogue, timeline: Timeline, rng: np.random.Generator
) -> np.ndarray:
    """Days on which the lines left, "" for all lines of an order of which a line has not left by the last day."""
    n_past = sum(day <= timeline.last_day for day in timeline.ship_days)
    spell = outcomes.in_stock_out(lines, orders=orders, catalogue=catalogue)
    shipped = outcomes.shipped_positions(lines, orders=orders, is_stock_out=spell, timeline=timeline, rng=rng)
    due = outcomes.due_positions(orders, timeline=timeline)[lines["order"]]
    short = catalogue.skus["filament"].isin(SHORT_FILAMENTS).to_numpy()[lines["sku"]]
    has_left = (shipped < n_past) & ~(short & (due >= n_past - SHORT_SHIP_DAYS))
    is_closed = pd.Series(has_left).groupby(lines["order"].to_numpy()).transform("all").to_numpy()
    days = np.array([day.isoformat() for day in timeline.ship_days])
    return np.where(is_closed, days[np.where(is_closed, shipped, 0)], "")


def _project_rows(catalogue: Catalogue, *, timeline: Timeline) -> pd.DataFrame:
    """One large order agreed weeks ahead, shipped on the day it was wanted."""
    received = timeline.weeks_ago(PROJECT_WEEKS_AGO)
    wanted = timeline.calendar.nth_ship_day_after(received, PROJECT_LEAD_DAYS)
    codes, quantities = zip(*PROJECT_LINES, strict=True)
    if missing := set(codes) - set(catalogue.skus["code"]):
        raise LookupError(f"The project order names SKUs that this plant does not sell: {sorted(map(str, missing))}.")
    signed_at = timeline.calendar.at(received, PROJECT_HOUR)
    return pd.DataFrame({"sku": codes, "quantity": quantities}).assign(
        channel="LATTICE",
        reference="LP00001",
        kind="project",
        received_at=signed_at.isoformat(),
        wanted_day=wanted.isoformat(),
        may_part_ship="no",
        line_no=range(1, len(codes) + 1),
        shipped_day=wanted.isoformat(),
        cancelled_by="",
    )
