"""From the line to the shelf: oven places of each night and packing of each morning."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from inventory.rules.calendar import PlantCalendar
from stockplan.planner.core.facts import MaterialFacts, OvenFacts, SkuFacts
from stockplan.planner.core.timing import MinuteClock

HORIZON_MARGIN_DAYS = 21


@dataclass(frozen=True)
class Arrival:
    """Spools of one lot that reach the shelf together. `day` is the index of the first ship day they can serve."""

    shelf_min: int
    day: int
    spools: int


@dataclass(frozen=True)
class ShelfTimes:
    """When what is wound by a minute is shelved, for one drying time: a step function of the calendar.

    `gates` are the last minutes at which spools can still join (oven load, or start of packing where nothing dries);
    `shelf` and `day` say when and for which ship day they are then on the shelf.
    """

    gates: tuple[int, ...]
    shelf: tuple[int, ...]
    day: tuple[int, ...]

    def first(self, wound_min: int) -> int:
        """Return the index of the first gate at or after a minute."""
        return min(bisect_left(self.gates, wound_min), len(self.gates) - 1)


def shelf_times(
    calendar: PlantCalendar, *, clock: MinuteClock, days: Sequence[date], last: datetime, dry_h: float
) -> ShelfTimes:
    """Read the step function off the calendar from the clock's instant to `last`."""
    pick_ups = [clock.minute(calendar.pick_up_at(day)) for day in days]
    found: list[tuple[int, int, int]] = []
    for gate in _gates(calendar, clock.as_of, last, dry_h=dry_h):
        shelf = calendar.shelf_at(gate, dry_h=dry_h)
        found.append((clock.minute(gate), clock.minute(shelf), bisect_left(pick_ups, clock.minute(shelf))))
    if not found:
        raise ValueError("no weekday has an oven load or packing: nothing could reach the shelf")
    return ShelfTimes(*(tuple(column) for column in zip(*found, strict=True)))


def _gates(calendar: PlantCalendar, start: datetime, last: datetime, *, dry_h: float) -> list[datetime]:
    """Return the instants at which a wound spool can join an oven load, or packing where it needs no drying."""
    gates = []
    day = calendar.local_day(start)
    while day <= calendar.local_day(last):
        rule = calendar.day_rules.get(day.weekday())
        wall = None if rule is None else (rule.oven_load_at if dry_h > 0 else rule.pack_from)
        if wall is not None and day not in calendar.closed_days and calendar.at(day, wall) >= start:
            gates.append(calendar.at(day, wall))
        day += timedelta(days=1)
    return gates


@dataclass
class FinishingBoard:
    """Oven places and packing that are still free, written on as lots are planned.

    Parameters
    ----------
    times
        Shelf times by drying hours.
    ovens
        None entered: places are not limited.
    packing
        Spools that can be packed by each shelf minute; a minute left out is not limited.
    """

    times: dict[float, ShelfTimes]
    ovens: tuple[OvenFacts, ...]
    packing: dict[int, int]
    places_left: dict[tuple[int, str], float] = field(default_factory=dict)
    packed: dict[int, int] = field(default_factory=dict)

    def copy(self) -> FinishingBoard:
        """Return a board that can be written on without changing this one."""
        return FinishingBoard(self.times, self.ovens, self.packing, dict(self.places_left), dict(self.packed))

    def first_day(self, material: MaterialFacts, wound_min: int) -> int:
        """Return the ship day index of what is wound by a minute, were ovens and packing free."""
        times = self.times[material.spool_dry_h]
        return times.day[times.first(wound_min)]

    def shelve(self, sku: SkuFacts, material: MaterialFacts, *, wound_min: int, spools: int) -> tuple[Arrival, ...]:
        """Put a lot into the first oven loads and packing mornings with room, and say when it arrives."""
        times = self.times[material.spool_dry_h]
        arrivals: list[Arrival] = []
        left = spools
        for gate in range(times.first(wound_min), len(times.gates)):
            dried = left if material.spool_dry_h == 0 else self._dry(times.gates[gate], sku, material, left)
            for at in range(gate, len(times.gates)):
                taken = self._pack(times.shelf[at], dried)
                if taken:
                    arrivals.append(Arrival(times.shelf[at], times.day[at], taken))
                dried -= taken
                left -= taken
                if dried == 0:
                    break
            if left == 0:
                break
        if left:
            arrivals.append(Arrival(times.shelf[-1], times.day[-1], left))
        return tuple(arrivals)

    def _dry(self, gate_min: int, sku: SkuFacts, material: MaterialFacts, spools: int) -> int:
        """Take oven places of one load and return how many spools found one."""
        if not self.ovens:
            return spools
        found = 0
        for oven in fitting_ovens(self.ovens, sku, material):
            left = self.places_left.get((gate_min, oven.code), oven.places)
            taken = min(spools - found, int(left / sku.oven_places + 1e-9))
            self.places_left[gate_min, oven.code] = left - taken * sku.oven_places
            found += taken
        return found

    def _pack(self, shelf_min: int, spools: int) -> int:
        """Take packing of one morning and return how many spools found it."""
        limit = self.packing.get(shelf_min)
        done = self.packed.get(shelf_min, 0)
        taken = spools if limit is None else max(min(spools, limit - done), 0)
        self.packed[shelf_min] = done + taken
        return taken


def finishing_board(
    calendar: PlantCalendar,
    *,
    clock: MinuteClock,
    days: Sequence[date],
    last: datetime,
    materials: Sequence[MaterialFacts],
    ovens: tuple[OvenFacts, ...],
) -> FinishingBoard:
    """Return the board with all places free, from the clock's instant to `last`."""
    return FinishingBoard(
        times={
            dry_h: shelf_times(calendar, clock=clock, days=days, last=last, dry_h=dry_h)
            for dry_h in sorted({m.spool_dry_h for m in materials})
        },
        ovens=ovens,
        packing=packing_limits(calendar, clock=clock, last=last),
    )


def fitting_ovens(ovens: Sequence[OvenFacts], sku: SkuFacts, material: MaterialFacts) -> list[OvenFacts]:
    """Return the ovens whose usual temperature suits filament and spool; all of them if none does.

    An oven's temperature can be set for a load, so that no SKU is left without one.
    """
    top = min(material.spool_dry_max_c, sku.max_temp_c)
    fitting = [oven for oven in ovens if material.spool_dry_min_c <= oven.temperature_c <= top]
    return fitting or list(ovens)


def packing_limits(calendar: PlantCalendar, *, clock: MinuteClock, last: datetime) -> dict[int, int]:
    """Return how many spools can be packed by each shelf-ready minute; weekdays without a stated number: no limit."""
    limits = {}
    day = calendar.local_day(clock.as_of)
    while day <= calendar.local_day(last):
        rule = calendar.day_rules.get(day.weekday())
        if rule is not None and rule.shelf_ready is not None and rule.pack_spools and day not in calendar.closed_days:
            limits[clock.minute(calendar.at(day, rule.shelf_ready))] = rule.pack_spools
        day += timedelta(days=1)
    return limits
