"""Replays of past days that were computed of late, and the one that was asked for last."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from forecasting.messages import Message
from stockplan.planner.core.replay.records import ReplayRow
from stockplan.planner.models import AskedReplay, StoredReplay
from stockplan.planner.services.asked_replays import SILENT_AFTER

SHOWN = 12


@dataclass(frozen=True)
class PastReplay:
    """One replay: its rows are weeks and their total, or points of an exchange curve."""

    policy: str
    is_curve: bool
    first_day: date
    last_day: date
    computed_at: datetime
    conditions: tuple[Message, ...]
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


@dataclass(frozen=True)
class ReplayProgress:
    """How far the replay is that was asked for last.

    Parameters
    ----------
    is_silent
        Its process has not been heard of for long: it ended before it was done.
    """

    policy: str
    is_curve: bool
    first_day: date
    last_day: date
    asked_at: datetime
    days_done: int
    days_in_all: int
    has_ended: bool
    is_silent: bool
    failure: Message | None

    @property
    def is_under_way(self) -> bool:
        """Whether more can be heard of it."""
        return not (self.has_ended or self.is_silent)


def newest_asked(now: datetime) -> ReplayProgress | None:
    """Return the progress of the replay that was asked for last; None where none was. One query."""
    row = AskedReplay.objects.first()
    if row is None:
        return None
    return ReplayProgress(
        policy=row.policy,
        is_curve=row.is_curve,
        first_day=row.first_day,
        last_day=row.last_day,
        asked_at=row.asked_at,
        days_done=row.days_done,
        days_in_all=row.days_in_all,
        has_ended=row.ended_at is not None,
        is_silent=row.ended_at is None and row.seen_at < now - SILENT_AFTER,
        failure=row.failure,
    )


def comparable_curves(replays: Sequence[PastReplay]) -> list[PastReplay]:
    """Return the newest exchange curve of each policy over the days of the newest of all."""
    curves = [replay for replay in replays if replay.is_curve]
    found: dict[str, PastReplay] = {}
    for curve in curves:
        if (curve.first_day, curve.last_day) == (curves[0].first_day, curves[0].last_day):
            found.setdefault(curve.policy, curve)
    return list(found.values())
