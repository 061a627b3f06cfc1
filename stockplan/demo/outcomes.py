"""What became of the orders: due days, shipping days, cancellations, and what a stock-out hid."""

from __future__ import annotations

from datetime import datetime, time

import numpy as np
import pandas as pd

from stockplan.demo.arrivals import HABITS
from stockplan.demo.baskets import number_lines
from stockplan.demo.catalogue import Catalogue
from stockplan.demo.site import CHANNELS
from stockplan.demo.timeline import CUT_OFF, Timeline

CUSTOMER_CANCELS_SHARE = 0.008
SHOP_CANCELS_SHARE = 0.0015
LATE_SHARE = 0.022
MEAN_LATE_DAYS = 1.8
# Made to order: most of its customers name a day two weeks or more ahead.
MADE_TO_ORDER_DAYS = (14, 26)
# One well-sold SKU lay empty for three weeks in the second autumn.
STOCK_OUT_SKU = "PLA-CHF-175-01000"
STOCK_OUT_WEEKS_AGO = (23, 20)
HIDING = tuple(code for code, _, hides in CHANNELS if hides == "yes")


def hide_stock_out(lines: pd.DataFrame, *, orders: pd.DataFrame, catalogue: Catalogue) -> pd.DataFrame:
    """Take away what customers of hiding channels could not order while the SKU lay empty."""
    hides = np.array([habit.code in HIDING for habit in HABITS])[orders["channel"].to_numpy()[lines["order"]]]
    is_hidden = hides & in_stock_out(lines, orders=orders, catalogue=catalogue)
    return number_lines(lines[~is_hidden])


def in_stock_out(lines: pd.DataFrame, *, orders: pd.DataFrame, catalogue: Catalogue) -> np.ndarray:
    """Say which lines ask for the empty SKU during its spell."""
    position = catalogue.skus.index[catalogue.skus["code"] == STOCK_OUT_SKU][0]
    weeks_left = (orders["day"].max() - orders["day"].to_numpy()[lines["order"]]) // 7 + 1
    in_spell = (weeks_left <= STOCK_OUT_WEEKS_AGO[0]) & (weeks_left > STOCK_OUT_WEEKS_AGO[1])
    is_hit: np.ndarray = in_spell & (lines["sku"].to_numpy() == position)
    return is_hit


def wish_days(
    lines: pd.DataFrame, *, orders: pd.DataFrame, catalogue: Catalogue, rng: np.random.Generator
) -> pd.DataFrame:
    """Let customers of what is made to order name a day well ahead."""
    made_to_order = (catalogue.skus["is_stocked"] == "no").to_numpy()[lines["sku"]]
    asks = np.isin(np.arange(len(orders)), lines["order"].to_numpy()[made_to_order]) & (rng.random(len(orders)) < 0.85)
    ahead = rng.integers(*MADE_TO_ORDER_DAYS, len(orders))
    return orders.assign(wanted_after_days=np.where(asks, ahead, orders["wanted_after_days"]))


def due_positions(orders: pd.DataFrame, *, timeline: Timeline) -> np.ndarray:
    """Position in `timeline.ship_days` of each order's due day: at the cut-off an order is late already."""
    ship_days = np.array([(day - timeline.first_day).days for day in timeline.ship_days])
    cut_off_min = ship_days * 1440 + CUT_OFF.hour * 60 + CUT_OFF.minute
    by_receipt = np.searchsorted(cut_off_min, orders["day"] * 1440 + orders["minute"], side="right")
    by_wish = np.searchsorted(ship_days, orders["day"] + orders["wanted_after_days"], side="left")
    return np.where(orders["wanted_after_days"] > 0, np.maximum(by_receipt, by_wish), by_receipt)


def shipped_positions(
    lines: pd.DataFrame, *, orders: pd.DataFrame, is_stock_out: np.ndarray, timeline: Timeline, rng: np.random.Generator
) -> np.ndarray:
    """Position in `timeline.ship_days` of the day on which each line left."""
    due = due_positions(orders, timeline=timeline)[lines["order"]]
    is_late = rng.random(len(lines)) < LATE_SHARE
    shipped = due + np.where(is_late, rng.geometric(1 / MEAN_LATE_DAYS, len(lines)), 0)
    back = timeline.weeks_ago(STOCK_OUT_WEEKS_AGO[1])
    refilled = next(n for n, day in enumerate(timeline.ship_days) if day >= back)
    shipped = np.where(is_stock_out, np.maximum(shipped, refilled), shipped)
    # What may not leave in parts leaves with its last line.
    whole = pd.Series(shipped).groupby(lines["order"].to_numpy()).transform("max").to_numpy()
    return np.where(orders["may_part_ship"].to_numpy()[lines["order"]], shipped, whole)


def cancellations(orders: pd.DataFrame, *, rng: np.random.Generator) -> np.ndarray:
    """Say who cancelled each order, "" for nobody."""
    draw = rng.random(len(orders))
    by_shop = CUSTOMER_CANCELS_SHARE + SHOP_CANCELS_SHARE
    return np.select([draw < CUSTOMER_CANCELS_SHARE, draw < by_shop], ["customer", "shop"], "")


def received_at(orders: pd.DataFrame, *, timeline: Timeline) -> pd.Series:
    """Instants of arrival with their offset from UTC, as text; no order arrives in the hours of a clock change."""
    start = datetime.combine(timeline.first_day, datetime.min.time())
    local = pd.Timestamp(start) + pd.to_timedelta(orders["day"] * 1440 + orders["minute"], unit="min")
    # The offset at noon holds from the small hours on, and none of the channels opens before five.
    noons = [datetime.combine(day, time(12), tzinfo=timeline.calendar.zone) for day in timeline.days]
    offset = pd.Series([noon.isoformat()[-6:] for noon in noons])
    return local.dt.strftime("%Y-%m-%dT%H:%M:00") + orders["day"].map(offset)
