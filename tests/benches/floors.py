"""Ways in which a floor may take a make list: a driver of the API need not work as the planner imagines."""

from __future__ import annotations

from collections import defaultdict, deque
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from tests.benches.drive import Floor
from tests.benches.simulated_plant import SHIFT_BEGINS, ZONE, SimulatedPlant

DRY_HOURS = 4


@dataclass
class DayFloor(Floor):
    """Releases what the list starts before the next one, and makes it at the planned times."""

    def take(self, made: dict[str, Any], at: datetime) -> None:
        until = _next_morning(at)
        for row in _by_start(made):
            if datetime.fromisoformat(row["start"]) < until:
                _make_as_planned(self, self.release(made, row, at), row)


@dataclass
class WholeFloor(Floor):
    """Releases the whole list every morning, and makes it at the planned times."""

    def take(self, made: dict[str, Any], at: datetime) -> None:
        rows = _by_start(made)
        if rows:
            released = self.api.post(f"make-lists/{made['id']}/release/", {"occurred_at": at.isoformat()})
            codes = {row["rank"]: row["run"] for row in released["runs"]}
            for row in rows:
                _make_as_planned(self, codes[row["rank"]], row)


@dataclass
class QueueFloor(Floor):
    """Takes the runs of each line in their order and makes the next one whenever the line is free.

    Only the run that begins is released; what is not begun by the next list is forgotten. Planned times are not
    looked at, only that the resin is dry.
    """

    plant: SimulatedPlant = field(kw_only=True)
    made: dict[str, Any] = field(default_factory=dict)
    queues: dict[str, deque[dict[str, Any]]] = field(default_factory=lambda: defaultdict(deque))
    busy: set[str] = field(default_factory=set)

    def take(self, made: dict[str, Any], at: datetime) -> None:
        self.made = made
        self.queues.clear()
        for row in _by_start(made):
            self.queues[row["line"]].append(row)
        for line in sorted(self.queues):
            if line not in self.busy:
                self._next(line, at)

    def _next(self, line: str, at: datetime) -> None:
        if not self.queues[line]:
            self.busy.discard(line)
            return
        self.busy.add(line)
        row = self.queues[line].popleft()
        dry = row["drying_from"]
        dry_at = at if dry is None else datetime.fromisoformat(dry) + timedelta(hours=DRY_HOURS)
        begin = self._working(max(at, dry_at), 0)
        end = self._working(begin, row["changeover_min"] + row["run_min"])
        code = self.release(self.made, row, at)
        self.agenda.add(begin, lambda when: self.start(code, row, when))
        self.agenda.add(end, lambda when: self._done(line, code, row, when))

    def _done(self, line: str, code: str, row: dict[str, Any], at: datetime) -> None:
        self.finish(code, row, at)
        self._next(line, at)

    def _working(self, at: datetime, minutes: float) -> datetime:
        """Return when so many minutes of shift have passed, from the first minute of a shift at or after `at`."""
        now, left = at.astimezone(ZONE), minutes
        while True:
            begin = now.replace(hour=SHIFT_BEGINS, minute=0, second=0, microsecond=0)
            end = begin + timedelta(hours=self.plant.shift_hours)
            if now.weekday() < 5 and now < end:
                now = max(now, begin)
                if now + timedelta(minutes=left) <= end:
                    return now + timedelta(minutes=left)
                left -= (end - now).total_seconds() / 60
            now = begin + timedelta(days=1)


def _next_morning(at: datetime) -> datetime:
    """Return the same hour of the next weekday."""
    local = at.astimezone(ZONE)
    return local + timedelta(days=3 if local.weekday() == 4 else 1)


def _by_start(made: dict[str, Any]) -> list[dict[str, Any]]:
    return sorted((row for row in made["runs"] if not row["is_blocked"]), key=lambda row: (row["start"], row["line"]))


def _make_as_planned(floor: Floor, code: str, row: dict[str, Any]) -> None:
    start, end = datetime.fromisoformat(row["start"]), datetime.fromisoformat(row["end"])
    floor.agenda.add(start, lambda at: floor.start(code, row, at))
    floor.agenda.add(end, lambda at: floor.finish(code, row, at))
