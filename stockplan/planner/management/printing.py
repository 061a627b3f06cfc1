"""The make list on a terminal, as CSV and as JSON."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import asdict
from datetime import date, datetime
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from rich.console import Console
from rich.table import Table

from stockplan.planner.selectors.make_list_details import LineDayTotal, ListedRunDetail, MakeListDetail

HEADER = (
    "rank",
    "line",
    "place",
    "filament",
    "spools",
    "start",
    "end",
    "shelf_day",
    "changeover_min",
    "run_min",
    "kg",
    "misses_avoided",
    "worth_per_hour",
    "runs_out_on",
    "reason",
)
NOT_RIGHT = {"line", "filament", "spools", "start", "end"}
TABLE_WIDTH = 210


def print_table(detail: MakeListDetail, *, zone: ZoneInfo, file: Any) -> None:
    """Print the list, the totals per line and day, what was left out and what the list assumes."""
    console = Console(file=file, width=TABLE_WIDTH, highlight=False)
    head = f"Make list {detail.first_day} to {detail.last_day}, as of {detail.as_of.astimezone(zone):%a %Y-%m-%d %H:%M}"
    console.print(head)
    console.print(
        f"Expected misses: {detail.misses_without:.1f} without it, {detail.misses_with:.1f} with it. "
        f"Line hours short: {detail.hours_short_per_week:.1f} a week. Computed in {detail.compute_seconds:.1f} s."
    )
    console.print(_runs_table(detail, zone))
    for run in detail.runs:
        console.print(f"{run.rank}. {run.filament_code}: {run.reason}", soft_wrap=True)
    console.print(_totals_table(detail.totals))
    for left in detail.not_listed:
        console.print(f"{left.filament_code}: {left.sentence}", soft_wrap=True)
    console.print("Assumed:")
    for sentence in detail.assumptions:
        console.print(f"- {sentence}", soft_wrap=True)


def as_csv(detail: MakeListDetail, *, zone: ZoneInfo) -> str:
    """Return one row per run, rank first."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(HEADER)
    writer.writerows(_cells(run, zone) for run in detail.runs)
    return out.getvalue()


def as_json(detail: MakeListDetail) -> str:
    """Return the whole list."""
    return json.dumps(asdict(detail), default=_plain, indent=2)


def _runs_table(detail: MakeListDetail, zone: ZoneInfo) -> Table:
    """The runs without their reasons, which follow as sentences, and with sizes by net mass."""
    table = Table(show_lines=False, expand=False)
    for name in HEADER[:-1]:
        table.add_column(name.replace("_", " "), justify="left" if name in NOT_RIGHT else "right")
    for run in detail.runs:
        sizes = ", ".join(f"{size.spools} x {size.net_g / 1000:g} kg" for size in run.sizes)
        cells = [str(cell) for cell in _cells(run, zone)[:-1]]
        cells[HEADER.index("spools")] = sizes
        table.add_row(*cells)
    return table


def _totals_table(totals: tuple[LineDayTotal, ...]) -> Table:
    table = Table(title="Totals per line and day (runs that start then)", title_justify="left")
    names = ("line", "day", "runs", "spools", "kg", "run min", "changeover min", "purge kg", "misses avoided")
    for name in names:
        table.add_column(name, justify="left" if name in {"line", "day"} else "right")
    for t in totals:
        table.add_row(
            t.line_code,
            f"{t.day:%a %Y-%m-%d}",
            str(t.runs),
            str(t.spools),
            f"{t.good_kg:.1f}",
            f"{t.run_min:.0f}",
            f"{t.changeover_min:.0f}",
            f"{t.purge_kg:.1f}",
            f"{t.misses_avoided:.1f}",
        )
    return table


def _cells(run: ListedRunDetail, zone: ZoneInfo) -> tuple[object, ...]:
    return (
        run.rank,
        "blocked" if run.is_blocked else run.line_code,
        "" if run.place_on_line is None else run.place_on_line,
        run.filament_code,
        " ".join(f"{size.spools} x {size.sku_code}" for size in run.sizes),
        _local(run.start, zone),
        _local(run.end, zone),
        run.shelf_day or "",
        round(run.changeover_min),
        round(run.run_min),
        f"{run.good_kg:.1f}",
        f"{run.misses_avoided:.2f}",
        f"{run.worth_per_hour:.2f}",
        run.runs_out_on or "",
        run.reason,
    )


def _local(instant: datetime | None, zone: ZoneInfo) -> str:
    return "" if instant is None else f"{instant.astimezone(zone):%a %m-%d %H:%M}"


def _plain(value: object) -> str:
    if isinstance(value, (date, datetime)):
        return value.isoformat()
    if isinstance(value, UUID):
        return str(value)
    raise TypeError(f"cannot write {type(value).__name__} as JSON")
