"""What each line makes next, in its order: the run under way, released runs, then the other runs of the newest list.

A listed run is named by its rank until it is released: `rank-3`.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db.models import Count, F, Max

from inventory.models import Filament, Line, LineSpeed, Run, RunOutput, RunPlan
from stockplan.planner.core.run_order import Waiting
from stockplan.planner.models import ListedRun, ListedRunSize, MakeList, PlannerInstruction

KEY_OF_RANK = "rank-"


@dataclass(frozen=True)
class LineRun:
    """A run in the order of its line.

    Parameters
    ----------
    place
        Among the runs that have not started, 1 for the next one; None: it is under way.
    rank
        On the newest list, where it is not released; else None.
    start, end
        As they are planned now; of a run under way since it was started.
    sizes, spools_by_net_g
        Spools by SKU code, and by their net mass, the smallest first.
    lines
        Lines in use that can make it.
    pinned_to
        The line that the planner has fixed for its filament.
    """

    key: str
    line_code: str
    place: int | None
    rank: int | None
    filament_code: str
    material_name: str
    colour_name: str
    colour_hex: str
    diameter_mm: float
    start: datetime
    end: datetime
    changeover_from_code: str | None
    changeover_from_hex: str | None
    changeover_min: float
    purge_kg: float
    hopper_code: str | None
    drying_from: datetime | None
    shelf_at: datetime | None
    sizes: Mapping[str, int]
    spools_by_net_g: tuple[tuple[int, int], ...]
    lines: tuple[str, ...]
    pinned_to: str | None

    @property
    def run_code(self) -> str | None:
        """Its code, where it is released."""
        return self.key if self.rank is None else None

    @property
    def spools(self) -> int:
        """Spools of all sizes."""
        return sum(self.sizes.values())

    @property
    def good_kg(self) -> float:
        """Net mass of all spools."""
        return sum(net_g * spools for net_g, spools in self.spools_by_net_g) / 1000

    def waiting(self) -> Waiting:
        """Return it as one that may be moved."""
        return Waiting(
            key=self.key,
            filament=self.filament_code,
            line=self.line_code,
            sizes=self.sizes,
            is_released=self.rank is None,
            lines=self.lines,
            pinned_to=self.pinned_to,
        )


@dataclass(frozen=True)
class LineOrders:
    """The order of every line in use, by line and place.

    Parameters
    ----------
    make_list_id, as_of, last_day
        Of the newest list; None: there is none.
    placed_pins
        How many runs are pinned to places, by line.
    seen
        Changes with any of it: what was seen is what still stands while it is the same.
    """

    make_list_id: UUID | None
    as_of: datetime | None
    last_day: date | None
    runs: tuple[LineRun, ...]
    placed_pins: Mapping[str, int]
    seen: str

    @property
    def waiting(self) -> tuple[Waiting, ...]:
        """The runs that may be moved."""
        return tuple(run.waiting() for run in self.runs if run.place is not None)

    @property
    def started(self) -> tuple[str, ...]:
        """The runs under way."""
        return tuple(run.key for run in self.runs if run.place is None)


def line_orders() -> LineOrders:
    """Return the order of every line in use. Eleven queries at most."""
    newest = MakeList.objects.order_by("-as_of", "-created_at").first()
    codes = list(Line.objects.filter(is_active=True).order_by("code").values_list("code", flat=True))
    released = _released(codes)
    listed = [] if newest is None else _listed(newest, codes)
    pins = PlannerInstruction.objects.filter(withdrawn_at__isnull=True, kind=PlannerInstruction.Kind.PIN)
    pinned_to = dict(pins.filter(place__isnull=True, line__isnull=False).values_list("filament__code", "line__code"))
    able = _lines_by_filament({run.filament_code for run in (*released, *listed)}, codes)
    runs = [
        replace(run, lines=able[run.filament_code], pinned_to=pinned_to.get(run.filament_code))
        for run in (*released, *listed)
    ]
    placed = _numbered(run for code in codes for run in runs if run.line_code == code)
    on_places = pins.filter(place__isnull=False).order_by("line__code", "place")
    return LineOrders(
        make_list_id=None if newest is None else newest.pk,
        as_of=None if newest is None else newest.as_of,
        last_day=None if newest is None else newest.last_day,
        runs=placed,
        placed_pins=dict(on_places.order_by("line__code").values_list("line__code").annotate(Count("pk"))),
        seen=_seen(newest, placed, list(on_places.values_list("pk", flat=True))),
    )


# What released and listed runs have in common, by the names that `LineRun` has for it. Values and not records: a list
# of 2,000 SKUs has a thousand runs, and nine records each would take most of a second.
_COMMON = {
    "line_code": F("line__code"),
    "filament_code": F("filament__code"),
    "material_name": F("filament__material__name"),
    "colour_name": F("filament__colour__name"),
    "colour_hex": F("filament__colour__hex"),
    "nominal_mm": F("filament__diameter__nominal_mm"),
    "changeover_from_code": F("changeover_from__code"),
    "changeover_from_hex": F("changeover_from__colour__hex"),
    "hopper_code": F("hopper__code"),
}
# Rows of spools: the run, SKU, net mass and how many.
Sizes = Mapping[int, Sequence[tuple[str, int, int]]]


def _released(lines: Iterable[str]) -> list[LineRun]:
    """Return the runs that are released or started, each line's run under way first."""
    runs = Run.objects.filter(state__in=[Run.State.RELEASED, Run.State.STARTED], line__code__in=lines)
    rows: Iterable[Mapping[str, Any]] = runs.order_by("-state", "planned_start", "id").values(
        "id", "code", "state", "started_at", "planned_start", "planned_end", "changeover_min", "planned_purge_kg",
        "drying_from", **_COMMON, last_shelf_at=Max("outputs__shelf_at"),
    )  # fmt: skip
    outputs = RunOutput.objects.filter(run__in=runs, planned__gt=0)
    sizes = _by_run(outputs.values_list("run", "sku__item__code", "sku__spool_size__net_g", "planned"))
    found = []
    for row in rows:
        start = row["started_at"] or row["planned_start"]
        found.append(
            _line_run(
                row,
                key=row["code"],
                place=None if row["state"] == Run.State.STARTED else 0,
                rank=None,
                times=(start, start + (row["planned_end"] - row["planned_start"])),
                purge_kg=float(row["planned_purge_kg"]),
                shelf_at=row["last_shelf_at"],
                sizes=sizes[row["id"]],
            )
        )
    return found


def _listed(newest: MakeList, lines: Iterable[str]) -> list[LineRun]:
    """Return the runs of a list that are not released and have a line in use, in their order."""
    runs = ListedRun.objects.filter(make_list=newest, run__isnull=True, is_blocked=False, line__code__in=lines)
    rows: Iterable[Mapping[str, Any]] = runs.order_by("line__code", "place_on_line").values(
        "id", "rank", "start", "end", "changeover_min", "purge_kg", "drying_from", "shelf_at", **_COMMON
    )
    of_runs = ListedRunSize.objects.filter(listed_run__in=runs)
    sizes = _by_run(of_runs.values_list("listed_run", "sku__item__code", "sku__spool_size__net_g", "spools"))
    return [
        _line_run(
            row,
            key=f"{KEY_OF_RANK}{row['rank']}",
            place=0,
            rank=row["rank"],
            times=(row["start"], row["end"]),
            purge_kg=row["purge_kg"],
            shelf_at=row["shelf_at"],
            sizes=sizes[row["id"]],
        )
        for row in rows
    ]


def _by_run(rows: Iterable[tuple[int, str, int, int]]) -> Sizes:
    sizes: defaultdict[int, list[tuple[str, int, int]]] = defaultdict(list)
    for run, sku, net_g, spools in rows:
        sizes[run].append((sku, net_g, spools))
    return sizes


def _line_run(
    row: Mapping[str, Any],
    *,
    key: str,
    place: int | None,
    rank: int | None,
    times: tuple[datetime, datetime],
    purge_kg: float,
    shelf_at: datetime | None,
    sizes: Sequence[tuple[str, int, int]],
) -> LineRun:
    return LineRun(
        key=key,
        line_code=row["line_code"],
        place=place,
        rank=rank,
        filament_code=row["filament_code"],
        material_name=row["material_name"],
        colour_name=row["colour_name"],
        colour_hex=row["colour_hex"],
        diameter_mm=float(row["nominal_mm"]),
        start=times[0],
        end=times[1],
        changeover_from_code=row["changeover_from_code"],
        changeover_from_hex=row["changeover_from_hex"],
        changeover_min=float(row["changeover_min"]),
        purge_kg=purge_kg,
        hopper_code=row["hopper_code"],
        drying_from=row["drying_from"],
        shelf_at=shelf_at,
        sizes={sku: spools for sku, _, spools in sizes},
        spools_by_net_g=tuple(sorted((net_g, spools) for _, net_g, spools in sizes)),
        lines=(),
        pinned_to=None,
    )


def _lines_by_filament(filaments: Iterable[str], lines: Iterable[str]) -> Mapping[str, tuple[str, ...]]:
    able: defaultdict[str, list[str]] = defaultdict(list)
    wanted = Filament.objects.filter(code__in=filaments)
    speeds = LineSpeed.objects.filter(filament__in=wanted, line__code__in=lines).order_by("line__code")
    for filament, line in speeds.values_list("filament__code", "line__code"):
        able[filament].append(line)
    return defaultdict(tuple, {filament: tuple(codes) for filament, codes in able.items()})


def _numbered(runs: Iterable[LineRun]) -> tuple[LineRun, ...]:
    count: defaultdict[str, int] = defaultdict(int)
    found = []
    for run in runs:
        if run.place is not None:
            count[run.line_code] += 1
        found.append(run if run.place is None else replace(run, place=count[run.line_code]))
    return tuple(found)


def _seen(newest: MakeList | None, runs: Iterable[LineRun], pins: list[int]) -> str:
    codes = [run.key for run in runs if run.rank is None]
    plans = dict(RunPlan.objects.filter(run__code__in=codes).order_by().values_list("run__code").annotate(Max("pk")))
    parts = [(run.line_code, run.key, run.place, plans.get(run.key), sorted(run.sizes.items())) for run in runs]
    return hashlib.sha256(repr((newest and newest.pk, parts, pins)).encode()).hexdigest()[:20]
