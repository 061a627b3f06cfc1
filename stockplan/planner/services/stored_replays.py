"""Keep what a replay came to."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from stockplan.planner.core.replay.records import ReplayRow
from stockplan.planner.models import StoredReplay


def store_replay(
    *, policy: str, is_curve: bool, conditions: Sequence[str], rows: Sequence[ReplayRow], now: datetime
) -> StoredReplay:
    """Write the rows of one replay, or of an exchange curve. One query."""
    return StoredReplay.objects.create(
        policy=policy,
        is_curve=is_curve,
        first_day=min(row.totals.first_day for row in rows),
        last_day=max(row.totals.last_day for row in rows),
        computed_at=now,
        conditions=list(conditions),
        rows=[row.as_json() for row in rows],
    )
