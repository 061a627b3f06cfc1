"""Replays of past days that were computed of late."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from stockplan.planner.core.replay.records import ReplayRow
from stockplan.planner.models import StoredReplay

SHOWN = 12


@dataclass(frozen=True)
class PastReplay:
    """One replay: its rows are weeks and their total, or points of an exchange curve."""

    policy: str
    is_curve: bool
    first_day: date
    last_day: date
    computed_at: datetime
    conditions: tuple[str, ...]
    rows: tuple[ReplayRow, ...]


def past_replays() -> list[PastReplay]:
    """Return the newest replays, newest first. One query."""
    return [
        PastReplay(
            policy=row.policy,
            is_curve=row.is_curve,
            first_day=row.first_day,
            last_day=row.last_day,
            computed_at=row.computed_at,
            conditions=tuple(row.conditions),
            rows=tuple(ReplayRow.of_json(values) for values in row.rows),
        )
        for row in StoredReplay.objects.all()[:SHOWN]
    ]


def comparable_curves(replays: Sequence[PastReplay]) -> list[PastReplay]:
    """Return the newest exchange curve of each policy over the days of the newest of all."""
    curves = [replay for replay in replays if replay.is_curve]
    found: dict[str, PastReplay] = {}
    for curve in curves:
        if (curve.first_day, curve.last_day) == (curves[0].first_day, curves[0].last_day):
            found.setdefault(curve.policy, curve)
    return list(found.values())
