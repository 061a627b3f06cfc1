"""What a make list shows: frozen rows that API, command and pages read alike."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from forecasting.messages import Message


@dataclass(frozen=True)
class ArrivalDetail:
    """Spools that reach the shelf together, for a ship day."""

    day: date
    spools: int


@dataclass(frozen=True)
class SizeDetail:
    """Spools of one size on a run. `free` is the shelf less the open orders due when the list was made."""

    sku_code: str
    net_g: int
    spools: int
    free: int
    order_up_to: int
    misses_avoided: float
    arrivals: tuple[ArrivalDetail, ...]


@dataclass(frozen=True)
class MissingDetail:
    """Material that a run lacks, and the day by which it must be bought to be here in time."""

    item_code: str
    name: str
    quantity: float
    unit: str
    buy_by: date


@dataclass(frozen=True)
class FloorPlan:
    """How a released run stands on the floor now, wherever its list had it."""

    state: str
    line_code: str
    start: datetime
    end: datetime


@dataclass(frozen=True)
class ListedRunDetail:
    """One run of the list. `rank` is by worth, `place_on_line` by time; a blocked run has no line and no times."""

    id: int
    rank: int
    filament_code: str
    colour_name: str
    colour_hex: str
    material_code: str
    material_name: str
    diameter_mm: float
    line_code: str | None
    place_on_line: int | None
    start: datetime | None
    end: datetime | None
    shelf_at: datetime | None
    shelf_day: date | None
    changeover_from_code: str | None
    changeover_from_hex: str | None
    changeover_min: float
    run_min: float
    purge_kg: float
    resin_kg: float
    concentrate_kg: float
    hopper_code: str | None
    drying_from: datetime | None
    misses_avoided: float
    worth_per_hour: float
    runs_out_on: date | None
    reason: Message
    explanation: tuple[Message, ...]
    more_if_dropped: float | None
    more_a_day_later: float | None
    is_blocked: bool
    missing: tuple[MissingDetail, ...]
    is_pinned: bool
    run_code: str | None
    run_state: str | None
    now: FloorPlan | None
    sizes: tuple[SizeDetail, ...]

    @property
    def is_elsewhere(self) -> bool:
        """Say whether a released run stands elsewhere than on the list: on another line, or a minute off or more."""
        if self.now is None or self.start is None:
            return False
        return self.now.line_code != self.line_code or abs(self.now.start - self.start) >= timedelta(minutes=1)

    @property
    def spools(self) -> int:
        """Spools of all sizes."""
        return sum(size.spools for size in self.sizes)

    @property
    def good_kg(self) -> float:
        """Net mass of all spools."""
        return sum(size.spools * size.net_g for size in self.sizes) / 1000


@dataclass(frozen=True)
class NotListedDetail:
    """A filament that the list leaves out, and why."""

    filament_code: str
    material_name: str
    colour_name: str
    colour_hex: str
    diameter_mm: float
    cause: str
    sentence: Message


@dataclass(frozen=True)
class LineDayTotal:
    """What one line does on one local day: runs that start then."""

    line_code: str
    day: date
    runs: int
    spools: int
    good_kg: float
    run_min: float
    changeover_min: float
    purge_kg: float
    misses_avoided: float


@dataclass(frozen=True)
class MakeListDetail:
    """A make list as read. `runs` are in rank order.

    `benchmarks` are the rolling-origin scores of the forecast that the list stands on.
    """

    id: UUID
    as_of: datetime
    created_at: datetime
    first_day: date
    last_day: date
    state: str
    runs: tuple[ListedRunDetail, ...]
    not_listed: tuple[NotListedDetail, ...]
    totals: tuple[LineDayTotal, ...]
    assumptions: tuple[Message, ...]
    misses_without: float
    misses_with: float
    misses_on_its_days: float | None
    limit: Message | None
    hours_short_per_week: float
    forecast_run_id: int
    benchmarks: tuple[dict[str, Any], ...]
    compute_seconds: float
