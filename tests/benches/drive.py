"""Drives the service through its API, day by day, as a plant would; the simulation alone knows the true demand.

A day: spools that dried overnight are packed, a make list is asked for and handed to the floor, lines start and finish
their runs, orders arrive, what the shelf holds is shipped at the pick-up, ovens are loaded in the evening. How the
floor takes the list is a matter of `floors`.
"""

from __future__ import annotations

import heapq
import itertools
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import Any

import numpy as np
from django.test import Client

from tests.benches.simulated_plant import ZONE, SimulatedPlant, draw_orders

PACK_AT, LIST_AT, PICK_UP_AT, LOAD_AT = time(8, 0), time(5, 45), time(14, 59), time(21, 30)
Happen = Callable[[datetime], None]


class Api:
    """The service seen through its API, with the scope `replay`."""

    def __init__(self, token: str) -> None:
        self.client = Client(headers={"Authorization": f"Bearer {token}"})

    def post(self, path: str, body: dict[str, Any]) -> dict[str, Any]:
        answer = self.client.post(f"/api/v1/{path}", body, content_type="application/json")
        if answer.status_code >= 400:
            raise RuntimeError(f"POST {path} {body}: {answer.status_code} {answer.content.decode()}")
        return answer.json()

    def get(self, path: str, **query: Any) -> dict[str, Any]:
        answer = self.client.get(f"/api/v1/{path}", query)
        if answer.status_code >= 400:
            raise RuntimeError(f"GET {path} {query}: {answer.status_code} {answer.content.decode()}")
        return answer.json()


@dataclass
class DayRecord:
    """What one simulated day came to; run and changeover minutes of the runs that began on it."""

    day: date
    orders_due: int = 0
    orders_kept: int = 0
    orders_waiting: int = 0
    shelf_units: int = 0
    run_minutes: float = 0.0
    changeover_minutes: float = 0.0
    runs: int = 0
    list_seconds: float = 0.0


class Agenda:
    """What happens when, in order of time; equal times in the order in which they were written down."""

    def __init__(self) -> None:
        self._events: list[tuple[datetime, int, Happen]] = []
        self._numbers = itertools.count()

    def add(self, instant: datetime, happen: Happen) -> None:
        heapq.heappush(self._events, (instant, next(self._numbers), happen))

    def run_until(self, end: datetime) -> None:
        while self._events and self._events[0][0] < end:
            at, _, happen = heapq.heappop(self._events)
            happen(at)


@dataclass
class Floor:
    """Starts and finishes runs as they come; `take` hands it a new list.

    Spools wound wait in `wound` for an oven; `record` is that of the running day.
    """

    api: Api
    agenda: Agenda
    record: DayRecord = field(init=False)
    wound: dict[tuple[str, str], int] = field(default_factory=lambda: defaultdict(int))

    def take(self, made: dict[str, Any], at: datetime) -> None:
        """Release of a new list's runs what this floor means to make."""
        raise NotImplementedError

    def release(self, made: dict[str, Any], row: dict[str, Any], at: datetime) -> str:
        path = f"make-lists/{made['id']}/runs/{row['rank']}/release/"
        return self.api.post(path, {"occurred_at": at.isoformat()})["run"]

    def start(self, code: str, row: dict[str, Any], at: datetime) -> None:
        self.api.post(f"runs/{code}/start/", {"occurred_at": at.isoformat()})
        self.record.runs += 1
        self.record.run_minutes += row["run_min"]
        self.record.changeover_minutes += row["changeover_min"]

    def finish(self, code: str, row: dict[str, Any], at: datetime) -> None:
        good = {size["sku"]: size["spools"] for size in row["sizes"]}
        self.api.post(f"runs/{code}/finish/", {
            "occurred_at": at.isoformat(), "real_minutes": round(row["run_min"] + row["changeover_min"], 1),
            "purge_kg": round(row["purge_kg"], 3), "good": good,
        })  # fmt: skip
        for sku, spools in good.items():
            self.wound[code, sku] += spools


@dataclass
class Drive:
    """One simulated stretch of ship days."""

    api: Api
    plant: SimulatedPlant
    floor: Floor
    rng: np.random.Generator
    tell: Callable[[DayRecord], None]
    list_days: int = 10
    _numbers: Iterator[int] = field(default_factory=itertools.count)
    _drying: dict[tuple[str, str], int] = field(default_factory=lambda: defaultdict(int))
    _waiting: dict[int, date] = field(default_factory=dict)

    def run(self, days: int) -> list[DayRecord]:
        """Simulate so many ship days and return a record of each."""
        calendar_days = [self.plant.first_simulated_day + timedelta(days=n) for n in range(2 * days + 14)]
        ship_days = [day for day in calendar_days if day.weekday() < 5][: days + 1]
        return [self._run_day(day, next_day) for day, next_day in itertools.pairwise(ship_days)]

    def _run_day(self, day: date, next_day: date) -> DayRecord:
        record, agenda = DayRecord(day), self.floor.agenda
        self.floor.record = record
        for received_at, basket in draw_orders(self.plant.skus, day, self.rng):
            agenda.add(received_at, lambda at, basket=basket: self._post_order(at, basket))
        agenda.add(_local(day, LIST_AT), lambda at: self._plan(at, record))
        agenda.add(_local(day, PACK_AT), self._pack)
        agenda.add(_local(day, PICK_UP_AT), lambda at: self._ship(at, record))
        agenda.add(_local(day, LOAD_AT), self._load_ovens)
        agenda.run_until(_local(next_day, time(0)))
        record.shelf_units = sum(row["on_shelf"] for row in self._stock())
        record.orders_waiting = len(self._waiting)
        self.tell(record)
        return record

    def _post_order(self, at: datetime, basket: dict[str, int]) -> None:
        answer = self.api.post("orders/", {
            "channel": "WEB", "reference": f"S{next(self._numbers):08d}", "received_at": at.isoformat(),
            "lines": [{"sku": sku, "quantity": units} for sku, units in basket.items()],
        })  # fmt: skip
        self._waiting[answer["id"]] = date.fromisoformat(answer["due_day"])

    def _plan(self, at: datetime, record: DayRecord) -> None:
        made = self.api.post("make-lists/", {"as_of": at.isoformat(), "days": self.list_days})
        record.list_seconds = made["compute_seconds"]
        self.floor.take(made, at)

    def _load_ovens(self, at: datetime) -> None:
        wound = self.floor.wound
        queue = {key: spools for key, spools in wound.items() if spools}
        for oven in ("O1", "O2"):
            places, load = 1000.0, {}
            for (code, sku), spools in list(queue.items()):
                each = float(self.plant.skus["net_kg"][sku])
                fits = min(spools, int(places // each))
                if fits:
                    load[code, sku] = fits
                    queue[code, sku] -= fits
                    places -= fits * each
            if load:
                self.api.post("oven-loads/", {"oven": oven, "occurred_at": at.isoformat(), "spools": _rows(load)})
            for key, spools in load.items():
                wound[key] -= spools
                self._drying[key] += spools

    def _pack(self, at: datetime) -> None:
        dry = {key: spools for key, spools in self._drying.items() if spools}
        for chunk in _chunks(dry):
            self.api.post("pack/", {"occurred_at": at.isoformat(), "spools": _rows(dict(chunk))})
        self._drying.clear()

    def _ship(self, at: datetime, record: DayRecord) -> None:
        for order, due in sorted(self._waiting.items()):
            if due > record.day:
                continue
            kept = self._ship_if_complete(at, order)
            if due == record.day:
                record.orders_due += 1
                record.orders_kept += kept
            if kept:
                del self._waiting[order]

    def _ship_if_complete(self, at: datetime, order: int) -> bool:
        lines = self.api.get(f"orders/{order}/")["lines"]
        if any(line["from_shelf"] < line["quantity"] - line["shipped"] for line in lines):
            return False
        self.api.post("shipments/", {"order": order, "occurred_at": at.isoformat()})
        return True

    def _stock(self) -> list[dict[str, Any]]:
        rows: list[dict[str, Any]] = []
        page = self.api.get("stock/", limit=500)
        rows += page["results"]
        while page["next"]:
            page = self.api.client.get(page["next"]).json()
            rows += page["results"]
        return rows


def _local(day: date, wall_time: time) -> datetime:
    return datetime.combine(day, wall_time, tzinfo=ZONE)


def _rows(spools: dict[tuple[str, str], int]) -> list[dict[str, Any]]:
    return [{"source": code, "sku": sku, "quantity": quantity} for (code, sku), quantity in spools.items()]


def _chunks(spools: dict[tuple[str, str], int]) -> Iterator[list[tuple[tuple[str, str], int]]]:
    rows = list(spools.items())
    for start in range(0, len(rows), 100):
        yield rows[start : start + 100]
