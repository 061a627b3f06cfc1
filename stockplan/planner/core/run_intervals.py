"""How often each filament should run, and whether the lines can follow the demand."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stockplan.planner.core.shortage import Floats

# Of the time that demand leaves free, changeovers are planned into this share; the rest absorbs bad luck.
USED_SHARE_OF_SPARE = 0.5
LONGEST_INTERVAL_DAYS = 25.0
HALVINGS = 60
# Less winding than this on an average ship day is no demand.
LEAST_WINDING_MIN = 1e-6


@dataclass(frozen=True)
class LineLoad:
    """Line minutes of an average ship day, over all lines."""

    available_min: float
    winding_min: float
    changeover_min: float

    @property
    def winding_share(self) -> float:
        """Share of the line time that demand asks for."""
        return self.winding_min / self.available_min if self.available_min else float("inf")

    @property
    def busy_share(self) -> float:
        """Share of the line time that winding and changeovers take."""
        return (self.winding_min + self.changeover_min) / self.available_min if self.available_min else float("inf")

    def short_h_per_week(self, *, ship_days_per_week: float) -> float:
        """Return the line hours a week that are missing."""
        short_min = self.winding_min + self.changeover_min - self.available_min
        return max(short_min, 0.0) * ship_days_per_week / 60


def run_interval_days(
    *, changeover_min: Floats, winding_min: Floats, available_min: float, shortest_days: Floats | float = 1.0
) -> Floats:
    """Return the ship days between two runs of each filament.

    Stock between runs costs in proportion to winding_min x T / 2 and changeovers take sum c / T of the line: least
    stock for a given time for changeovers is at T proportional to sqrt(c / winding_min). The factor is the one at
    which changeovers fill `USED_SHARE_OF_SPARE` of the time that winding leaves.

    Parameters
    ----------
    changeover_min : (F,) changeover and start-up of one run.
    winding_min : (F,) winding minutes that an average ship day's demand takes.
    available_min : line minutes of an average ship day, all lines.
    shortest_days : (F,) or one for all; no filament runs more often.

    Notes
    -----
    Where even the longest interval leaves too little time, every filament has the longest one; `LineLoad` then says
    how much is short.

    References
    ----------
    The independent solution of the economic lot scheduling problem with a constraint on set-up time: Bomberger (1966),
    Elmaghraby (1978), from memory; the test checks the square-root law by brute force.
    """
    has_demand = winding_min > LEAST_WINDING_MIN
    shape = np.sqrt(changeover_min / np.where(has_demand, winding_min, 1.0))
    spare = USED_SHARE_OF_SPARE * max(available_min - float(winding_min.sum()), 0.0)
    low, high = 0.0, LONGEST_INTERVAL_DAYS / max(float(shape[has_demand].min(initial=np.inf)), 1e-9)
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        days = np.clip(middle * shape, shortest_days, LONGEST_INTERVAL_DAYS)
        used = float((changeover_min / days)[has_demand].sum())
        low, high = (middle, high) if used > spare else (low, middle)
    return np.where(has_demand, np.clip(high * shape, shortest_days, LONGEST_INTERVAL_DAYS), LONGEST_INTERVAL_DAYS)


def line_load(*, changeover_min: Floats, winding_min: Floats, interval_days: Floats, available_min: float) -> LineLoad:
    """Return what the lines must do on an average ship day if every filament runs at its interval."""
    has_demand = winding_min > LEAST_WINDING_MIN
    changes = float((changeover_min / interval_days)[has_demand].sum())
    return LineLoad(available_min, float(winding_min.sum()), changes)
