"""How the forecast of single SKUs did on past risk periods: as stored, and the SKUs that it did worst on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from forecasting.track_record import pit_columns
from stockplan.planner.models import ForecastRun

MOST_SHOWN = 10


@dataclass(frozen=True)
class TrackRecord:
    """Past risk periods of a SKU: spools of demand in them, losses in spools, share of outcomes by tenth.

    `plain_loss` is that of the plain method which, with hindsight, did best on the same periods; None where none did.
    """

    windows: int
    demand: float
    loss: float
    plain_loss: float | None
    tenths: tuple[float, ...]

    @property
    def by_tenth(self) -> tuple[tuple[int, int, float], ...]:
        """Bounds of each tenth in per cent, and the share of outcomes in it."""
        return tuple((10 * place, 10 * place + 10, share) for place, share in enumerate(self.tenths))

    @property
    def gain_share(self) -> float | None:
        """By which share of the plain method's loss the forecast loses less; None where nothing was lost."""
        return 1 - self.loss / self.plain_loss if self.plain_loss else None


@dataclass(frozen=True)
class WorstSku:
    """A SKU that costs much of all loss."""

    code: str
    name: str
    share_of_loss: float
    record: TrackRecord


def track_record(stored: Mapping[str, Any]) -> TrackRecord | None:
    """Return the record as it is stored with a forecast, None where no past risk period could be scored."""
    windows = int(stored.get("windows", 0))
    if not windows:
        return None
    return TrackRecord(
        windows=windows,
        demand=stored["demand"],
        loss=stored["loss"],
        plain_loss=stored["plain_loss"],
        tenths=tuple(stored[column] / windows for column in pit_columns()),
    )


def worst_skus(forecast_run: ForecastRun) -> tuple[WorstSku, ...]:
    """Return the SKUs with most loss, the worst first. One query."""
    rows = forecast_run.skus.order_by("sku_id").values_list("sku__item__code", "sku__item__name", "track")
    records = [(code, name, record) for code, name, track in rows if (record := track_record(track))]
    total = sum(record.loss for _code, _name, record in records)
    worst = sorted(records, key=lambda row: -row[2].loss)[:MOST_SHOWN]
    return tuple(WorstSku(code, name, record.loss / total, record) for code, name, record in worst if record.loss > 0)
