"""Replayed weeks or points of an exchange curve, on a terminal and as CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from typing import Any

from rich.console import Console
from rich.table import Table

from stockplan.planner.core.replay.records import Count, ReplayRow

HEADER = (
    "period",
    "orders_due",
    "orders_share",
    "lines_share",
    "units_share",
    "late_orders",
    "stock_value",
    "winding_h",
    "changeover_h",
    "idle_h",
    "purge_kg",
    "runs",
)
TABLE_WIDTH = 150


def print_rows(rows: Sequence[ReplayRow], *, head: Sequence[str], currency: str, file: Any) -> None:
    """Print what was replayed and how, and the rows as a table; `currency` is that of the stock value."""
    console = Console(file=file, width=TABLE_WIDTH, highlight=False)
    for sentence in head:
        console.print(sentence, markup=False)
    table = Table()
    for name in HEADER:
        words = f"stock {currency}" if name == "stock_value" else name.replace("_", " ")
        table.add_column(words, justify="left" if name == "period" else "right")
    for row in rows:
        table.add_row(*_cells(row))
    console.print(table)


def rows_as_csv(rows: Sequence[ReplayRow], *, currency: str) -> str:
    """Return the rows as CSV with a header; `currency` is that of the stock value."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow((*HEADER, "currency"))
    writer.writerows((*_cells(row), currency) for row in rows)
    return out.getvalue()


def _cells(row: ReplayRow) -> tuple[str, ...]:
    """Return a row in the order of `HEADER`; a share of nothing is empty."""
    totals, use = row.totals, row.totals.use
    hours = (f"{minutes / 60:.1f}" for minutes in (use.winding_min, use.changeover_min, use.idle_min))
    return (
        row.label,
        str(totals.orders.due),
        *(_share(count) for count in (totals.orders, totals.lines, totals.units)),
        str(totals.late_orders),
        f"{totals.mean_stock_value:.0f}",
        *hours,
        f"{use.purge_kg:.1f}",
        str(use.runs),
    )


def _share(count: Count) -> str:
    return "" if count.share is None else f"{count.share:.4f}"
