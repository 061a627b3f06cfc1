"""The make list on a terminal, as CSV and as JSON."""

from __future__ import annotations

import csv
import io
import json
import textwrap
from dataclasses import is_dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from rich.box import SIMPLE_HEAD
from rich.console import Console
from rich.table import Table

from forecasting.messages import ENGLISH, Message
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
TABLE_WIDTH = 138
# More than any table of a list takes.
WIDEST = 1_000
SIZES_WIDTH = 34
# Joins a size to its spools where lines are folded.
NO_BREAK = "\N{NO-BREAK SPACE}"


def print_table(detail: MakeListDetail, *, zone: ZoneInfo, file: Any) -> None:
    """Print the list, why each run is on it, the totals per line and day, what was left out and what is assumed."""
    runs, totals = _runs_table(detail, zone), _totals_table(detail.totals)
    width = max(TABLE_WIDTH, _whole_width(runs), _whole_width(totals))
    console = Console(file=file, width=width, highlight=False)
    console.print(
        f"Make list {ENGLISH.day(detail.first_day)} to {ENGLISH.day(detail.last_day)} {detail.last_day.year}, "
        f"as of {_local(detail.as_of, zone)}"
    )
    console.print(
        f"Expected misses (spools not shipped on their due day, their further days late and, discounted, later days): "
        f"{detail.misses_without:.1f} without it, {detail.misses_with:.1f} with it."
    )
    if detail.misses_on_its_days is not None:
        console.print(
            f"Spools due up to {ENGLISH.day(detail.last_day)} that will not ship on their due day: "
            f"{detail.misses_on_its_days:.1f}; {detail.limit}."
        )
    console.print(
        f"Line hours short over the weeks: {detail.hours_short_per_week:.1f} a week. "
        f"Computed in {detail.compute_seconds:.1f} s."
    )
    console.print(runs)
    for run in detail.runs:
        console.print(f"{run.rank}. {run.filament_code}: {run.reason}", markup=False)
    console.print(totals)
    for left in detail.not_listed:
        console.print(f"{left.filament_code}: {left.sentence}", markup=False)
    console.print("Assumed:")
    for sentence in detail.assumptions:
        console.print(f"- {sentence}", markup=False)


def as_csv(detail: MakeListDetail, *, zone: ZoneInfo) -> str:
    """Return one row per run, rank first."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(HEADER)
    writer.writerows(_cells(run, zone) for run in detail.runs)
    return out.getvalue()


def as_json(detail: MakeListDetail) -> str:
    """Return the whole list."""
    return json.dumps(detail, default=_plain, indent=2)


def _runs_table(detail: MakeListDetail, zone: ZoneInfo) -> Table:
    """The runs with sizes by net mass, minutes of changeover and run, and misses avoided, in all and per line hour.

    Shelf day, day of running out and what the line changes over from stand in their reasons.
    """
    table = _table(
        ("rank", True), ("line", False), ("place", True), ("filament", False), ("spools", False), ("start", False),
        ("end", False), ("change\nmin", True), ("run\nmin", True), ("misses\navoided", True), ("per line\nhour", True),
    )  # fmt: skip
    for run in detail.runs:
        table.add_row(
            str(run.rank),
            "blocked" if run.is_blocked else run.line_code,
            "" if run.place_on_line is None else str(run.place_on_line),
            run.filament_code,
            _sizes(run),
            _local(run.start, zone),
            _local(run.end, zone),
            *([""] * 4 if run.is_blocked else _figures(run)),
        )
    return table


def _figures(run: ListedRunDetail) -> tuple[str, ...]:
    minutes = (f"{run.changeover_min:.0f}", f"{run.run_min:.0f}")
    return (*minutes, f"{run.misses_avoided:.1f}", f"{run.worth_per_hour:.2f}")


def _sizes(run: ListedRunDetail) -> str:
    """Write the sizes of a run, folded between two sizes and never inside one."""
    sizes = ", ".join(f"{size.spools} x {size.net_g / 1000:g}".replace(" ", NO_BREAK) for size in run.sizes)
    return "\n".join(textwrap.wrap(f"{sizes}{NO_BREAK}kg", SIZES_WIDTH)).replace(NO_BREAK, " ")


def _totals_table(totals: tuple[LineDayTotal, ...]) -> Table:
    """The totals; days are those on which the runs start."""
    table = _table(
        ("line", False), ("day", False), ("runs", True), ("spools", True), ("kg", True), ("run min", True),
        ("change min", True), ("purge kg", True), ("misses avoided", True),
    )  # fmt: skip
    table.title = "Totals per line and day (runs that start then)"
    for t in totals:
        table.add_row(
            t.line_code,
            ENGLISH.day(t.day),
            str(t.runs),
            str(t.spools),
            f"{t.good_kg:.1f}",
            f"{t.run_min:.0f}",
            f"{t.changeover_min:.0f}",
            f"{t.purge_kg:.1f}",
            f"{t.misses_avoided:.1f}",
        )
    return table


def _table(*columns: tuple[str, bool]) -> Table:
    """Return an empty table of columns (name, whether it holds numbers)."""
    table = Table(box=SIMPLE_HEAD, title_justify="left", padding=(0, 1, 0, 0), pad_edge=False)
    for name, is_number in columns:
        table.add_column(name, justify="right" if is_number else "left", no_wrap=True)
    return table


def _whole_width(table: Table) -> int:
    """Return the width at which no cell is cut, however long the plant's codes and numbers are."""
    return Console(width=WIDEST).measure(table).maximum


def _cells(run: ListedRunDetail, zone: ZoneInfo) -> tuple[object, ...]:
    return (
        run.rank,
        "blocked" if run.is_blocked else run.line_code,
        "" if run.place_on_line is None else run.place_on_line,
        run.filament_code,
        " ".join(f"{size.spools} x {size.sku_code}" for size in run.sizes),
        _iso(run.start, zone),
        _iso(run.end, zone),
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
    if instant is None:
        return ""
    local = instant.astimezone(zone)
    return ENGLISH.moment(local)


def _iso(instant: datetime | None, zone: ZoneInfo) -> str:
    return "" if instant is None else instant.astimezone(zone).isoformat(timespec="minutes")


def _plain(value: object) -> object:
    if isinstance(value, Message):
        return str(value)
    if is_dataclass(value):
        return vars(value)
    if isinstance(value, (date, datetime)):
        return value.isoformat()
    if isinstance(value, UUID):
        return str(value)
    raise TypeError(f"cannot write {type(value).__name__} as JSON")
