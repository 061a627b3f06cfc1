"""Drives the service through its API, day by day, as a plant would; the simulation alone knows the true demand.

A day: spools that dried overnight are packed, a make list is asked for and what starts before the next morning is
released, lines start and finish their runs, orders arrive, what the shelf holds is shipped at the pick-up, ovens are
loaded in the evening. Run times are the planned ones.
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
    """What one simulated day came to."""

    day: date
    orders_due: int = 0
    orders_kept: int = 0
    shelf_units: int = 0
    run_minutes: float = 0.0
    changeover_minutes: float = 0.0
    runs: int = 0
    list_seconds: float = 0.0


@dataclass
class Drive:
    """One simulated stretch of ship days."""

    api: Api
    plant: SimulatedPlant
    rng: np.random.Generator
    list_days: int = 10
    records: list[DayRecord] = field(default_factory=list)
    _events: list[tuple[datetime, int, Callable[[datetime], None]]] = field(default_factory=list)
    _numbers: Iterator[int] = field(default_factory=itertools.count)
    _wound: dict[tuple[str, str], int] = field(default_factory=lambda: defaultdict(int))
    _drying: dict[tuple[str, str], int] = field(default_factory=lambda: defaultdict(int))
    _due: dict[date, list[int]] = field(default_factory=lambda: defaultdict(list))
    _waiting: dict[int, date] = field(default_factory=dict)

    def run(self, days: int) -> list[DayRecord]:
        """Simulate so many ship days and return a record of each."""
        ship_days = [self.plant.first_simulated_day + timedelta(days=n) for n in range(2 * days + 14)]
        ship_days = [day for day in ship_days if day.weekday() < 5][: days + 1]
        for day, next_day in itertools.pairwise(ship_days):
            self._run_day(day, next_day)
        return self.records

    def _run_day(self, day: date, next_day: date) -> None:
        record = DayRecord(day)
        self.records.append(record)
        for received_at, basket in draw_orders(self.plant.skus, day, self.rng):
            self._at(received_at, lambda at, basket=basket: self._post_order(at, basket))
        self._at(_local(day, LIST_AT), lambda at: self._plan(at, _local(next_day, LIST_AT), record))
        self._at(_local(day, PACK_AT), self._pack)
        self._at(_local(day, PICK_UP_AT), lambda at: self._ship(at, record))
        self._at(_local(day, LOAD_AT), self._load_ovens)
        end = _local(next_day, time(0))
        while self._events and self._events[0][0] < end:
            at, _, happen = heapq.heappop(self._events)
            happen(at)
        record.shelf_units = sum(row["on_shelf"] for row in self._stock())

    def _at(self, instant: datetime, happen: Callable[[datetime], None]) -> None:
        heapq.heappush(self._events, (instant, next(self._numbers), happen))

    def _post_order(self, at: datetime, basket: dict[str, int]) -> None:
        answer = self.api.post("orders/", {
            "channel": "WEB", "reference": f"S{next(self._numbers):08d}", "received_at": at.isoformat(),
            "lines": [{"sku": sku, "quantity": units} for sku, units in basket.items()],
        })  # fmt: skip
        self._waiting[answer["id"]] = date.fromisoformat(answer["due_day"])

    def _plan(self, at: datetime, until: datetime, record: DayRecord) -> None:
        made = self.api.post("make-lists/", {"as_of": at.isoformat(), "days": self.list_days})
        record.list_seconds = made["compute_seconds"]
        for row in sorted(made["runs"], key=lambda row: row["start"] or ""):
            if row["is_blocked"] or datetime.fromisoformat(row["start"]) >= until:
                continue
            released = self.api.post(
                f"make-lists/{made['id']}/runs/{row['rank']}/release/", {"occurred_at": at.isoformat()}
            )
            record.runs += 1
            record.run_minutes += row["run_min"]
            record.changeover_minutes += row["changeover_min"]
            self._schedule(released["run"], row)

    def _schedule(self, code: str, row: dict[str, Any]) -> None:
        start, end = datetime.fromisoformat(row["start"]), datetime.fromisoformat(row["end"])
        good = {size["sku"]: size["spools"] for size in row["sizes"]}
        minutes = row["run_min"] + row["changeover_min"]
        self._at(start, lambda at: self.api.post(f"runs/{code}/start/", {"occurred_at": at.isoformat()}) and None)
        self._at(end, lambda at: self._finish(at, code, good, minutes, row["purge_kg"]))

    def _finish(self, at: datetime, code: str, good: dict[str, int], minutes: float, purge_kg: float) -> None:
        self.api.post(f"runs/{code}/finish/", {
            "occurred_at": at.isoformat(), "real_minutes": round(minutes, 1), "purge_kg": round(purge_kg, 3),
            "good": good,
        })  # fmt: skip
        for sku, spools in good.items():
            self._wound[code, sku] += spools

    def _load_ovens(self, at: datetime) -> None:
        queue = {key: spools for key, spools in self._wound.items() if spools}
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
                self._wound[key] -= spools
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
