"""When orders arrive, on which channel, and what their customers ask for."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd

from stockplan.demo.timeline import N_WEEKS, Timeline

YEARLY_GROWTH_SHARE = 0.07
WEEKS_PER_YEAR = 52.18
# Less is ordered in the holidays of summer, most before the turn of the year.
YEAR_SWING = 0.14
BEST_WEEK = 48
# Days differ by more than chance alone: a gamma with this shape multiplies the mean of a day.
DAY_SHAPE = 30.0
CLOSED_DAY_SHARE = 0.45


@dataclass(frozen=True)
class ChannelHabit:
    """How the customers of one channel order.

    Attributes
    ----------
    orders_per_week
        Mean at the start of the history, in a week without holidays.
    weekday
        Relative number of orders by weekday, Monday first.
    clock
        Bells of the time of day: (share, centre in h, spread in h).
    hours
        Earliest and latest hour.
    lines
        Shares of orders with 1, 2, .. 6 lines.
    may_part_ship_share, wanted_day_share
        Orders that may leave in parts; orders that name a later day.
    """

    code: str
    orders_per_week: float
    weekday: tuple[float, ...]
    clock: tuple[tuple[float, float, float], ...]
    hours: tuple[float, float]
    lines: tuple[float, ...]
    may_part_ship_share: float
    wanted_day_share: float


HABITS: tuple[ChannelHabit, ...] = (
    ChannelHabit(
        code="HERON",
        orders_per_week=137.0,
        weekday=(1.20, 1.10, 1.05, 1.00, 0.90, 0.42, 0.46),
        clock=((0.55, 10.8, 2.3), (0.45, 19.7, 1.7)),
        hours=(5.0, 23.9),
        lines=(0.47, 0.27, 0.14, 0.07, 0.03, 0.02),
        may_part_ship_share=0.58,
        wanted_day_share=0.03,
    ),
    ChannelHabit(
        code="LATTICE",
        orders_per_week=54.0,
        weekday=(1.35, 1.15, 1.05, 0.85, 0.60, 0.0, 0.0),
        clock=((1.0, 10.4, 1.9),),
        hours=(7.0, 17.5),
        lines=(0.16, 0.22, 0.22, 0.19, 0.12, 0.09),
        may_part_ship_share=0.70,
        wanted_day_share=0.12,
    ),
    ChannelHabit(
        code="QUAY",
        orders_per_week=37.0,
        weekday=(1.0, 0.95, 0.95, 1.0, 1.1, 0.0, 0.0),
        clock=((0.5, 10.5, 1.5), (0.5, 14.5, 1.5)),
        hours=(8.0, 17.0),
        lines=(0.62, 0.25, 0.09, 0.04, 0.0, 0.0),
        may_part_ship_share=0.15,
        wanted_day_share=0.0,
    ),
    ChannelHabit(
        code="BENCH",
        orders_per_week=3.0,
        weekday=(1.0, 1.0, 1.0, 1.0, 1.0, 0.0, 0.0),
        clock=((1.0, 11.0, 2.0),),
        hours=(8.0, 16.0),
        lines=(0.80, 0.20, 0.0, 0.0, 0.0, 0.0),
        may_part_ship_share=1.0,
        wanted_day_share=0.0,
    ),
)


def draw_arrivals(*, rng: np.random.Generator, timeline: Timeline) -> pd.DataFrame:
    """Draw the orders of the history, in order of arrival.

    Returns
    -------
    pandas.DataFrame
        One row an order: day (index from the first day), minute (local, of the day), channel (index in `HABITS`),
        group (week * channels + channel), n_lines, may_part_ship, wanted_after_days (0: no wish).
    """
    parts = [
        _channel_arrivals(habit, channel=channel, rng=rng, timeline=timeline) for channel, habit in enumerate(HABITS)
    ]
    orders = pd.concat(parts, ignore_index=True)
    orders["group"] = orders["day"] // 7 * len(HABITS) + orders["channel"]
    return orders.sort_values(["day", "minute", "channel"], kind="stable", ignore_index=True)


def _channel_arrivals(
    habit: ChannelHabit, *, channel: int, rng: np.random.Generator, timeline: Timeline
) -> pd.DataFrame:
    mean = _daily_mean(habit, timeline=timeline)
    per_day = rng.poisson(mean * rng.gamma(DAY_SHAPE, 1 / DAY_SHAPE, len(mean)))
    n_orders = int(per_day.sum())
    return pd.DataFrame(
        {
            "day": np.repeat(np.arange(len(mean)), per_day),
            "minute": _minutes(habit, n_orders=n_orders, rng=rng),
            "channel": channel,
            "n_lines": rng.choice(6, size=n_orders, p=habit.lines) + 1,
            "may_part_ship": rng.random(n_orders) < habit.may_part_ship_share,
            "wanted_after_days": np.where(
                rng.random(n_orders) < habit.wanted_day_share, rng.integers(4, 18, n_orders), 0
            ),
        }
    )


def _daily_mean(habit: ChannelHabit, *, timeline: Timeline) -> np.ndarray:
    days = timeline.days
    week = np.arange(7 * N_WEEKS) / 7
    year = 1 + YEAR_SWING * np.cos(2 * np.pi * (_week_of_year(days) - BEST_WEEK) / WEEKS_PER_YEAR)
    growth = (1 + YEARLY_GROWTH_SHARE) ** (week / WEEKS_PER_YEAR)
    weekday = np.array([habit.weekday[day.weekday()] for day in days]) / sum(habit.weekday)
    # Channels that need people stand still on closed days, the web shop goes on.
    closed_share = CLOSED_DAY_SHARE if min(habit.weekday) > 0 else 0.0
    closed = np.array([day.weekday() <= 4 and not timeline.calendar.is_ship_day(day) for day in days])
    mean: np.ndarray = habit.orders_per_week * weekday * year * growth * np.where(closed, closed_share, 1.0)
    return mean


def _week_of_year(days: list[date]) -> np.ndarray:
    return np.array([day.timetuple().tm_yday / 7 for day in days])


def _minutes(habit: ChannelHabit, *, n_orders: int, rng: np.random.Generator) -> np.ndarray:
    bell = rng.choice(len(habit.clock), size=n_orders, p=[share for share, _, _ in habit.clock])
    centre_h, spread_h = np.array([(centre, spread) for _, centre, spread in habit.clock])[bell].T
    drawn_h = rng.normal(centre_h, spread_h)
    # What falls outside of the hours is spread over them, so that no minute of opening or closing is crowded.
    outside = (drawn_h < habit.hours[0]) | (drawn_h > habit.hours[1])
    drawn_h[outside] = rng.uniform(*habit.hours, int(outside.sum()))
    minutes: np.ndarray = np.floor(drawn_h * 60).astype(int)
    return minutes
