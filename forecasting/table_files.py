"""Demand tables and forecasts as CSV and Parquet files.

A demand table is one of

- long: the columns ``period``, ``sku`` and ``quantity``, one row per period and SKU, in any order. A SKU may start
  later than the table; from its first period on it needs a row for every one;
- wide: the column ``period``, ascending, and for every SKU a column of quantities that is named after it.

A period is a date (2027-03-01: a day, the first day of a week, a day that stands for its month) or a whole number. No
period may be missing between the first and the last, of days none of a weekday that occurs at all. A quantity is a
number >= 0; an empty cell says that it is unknown. CSV files are UTF-8, separated by commas, with a decimal point.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from uuid import uuid4

import numpy as np
import pandas as pd
import pyarrow as pa
from numpy.typing import NDArray
from pyarrow import csv as arrow_csv
from pyarrow import parquet

from forecasting.errors import DemandTableError
from forecasting.messages import Message, message
from forecasting.periods import first_gap

FloatArray = NDArray[np.float64]

PERIOD, SKU, QUANTITY = "period", "sku", "quantity"
SUFFIXES = (".csv", ".parquet")


@dataclass(frozen=True)
class _Source:
    """A table as it was read, and the row number of its first record: a CSV file's line, counted with its header."""

    frame: pd.DataFrame
    first_row: int

    def fault(self, at: int, column: str, says: Message) -> DemandTableError:
        row = self.first_row + at
        return DemandTableError("row {row}, column {column!r}: {says}", row=row, column=column, says=says)


def read_table(path: Path) -> pd.DataFrame:
    """Return the history that ``forecast`` takes: periods by SKUs, NaN where unknown.

    Raises
    ------
    DemandTableError
        With the row and column of the first fault.
    OSError
        If the file cannot be opened.
    """
    source = _read(path)
    names = [str(name) for name in source.frame.columns]
    if len(source.frame) == 0:
        raise DemandTableError("a demand table needs at least one row below the names of its columns")
    if sorted(names) == sorted((PERIOD, SKU, QUANTITY)):
        return _from_long(source)
    if len(names) > 1 and PERIOD in names:
        return _from_wide(source)
    says = message(
        "the columns must be {period}, {sku} and {quantity}, or {period} and one column per SKU; got {names!s}",
        period=PERIOD,
        sku=SKU,
        quantity=QUANTITY,
        names=names[:5],
    )
    raise source.fault(-1, names[0], says)


def checked_suffix(path: Path) -> str:
    """Return .csv or .parquet.

    Raises
    ------
    DemandTableError
        For any other ending.
    """
    if path.suffix.lower() not in SUFFIXES:
        one, other = SUFFIXES
        raise DemandTableError(
            "a table is a file that ends in {one} or {other}; got {file!r}", one=one, other=other, file=path.name
        )
    return path.suffix.lower()


def write_table(frame: pd.DataFrame, path: Path) -> None:
    """Write a frame, whole or not at all."""
    suffix = checked_suffix(path)
    with written_whole(path) as beside:
        if suffix == ".csv":
            frame.to_csv(beside, index=False, lineterminator="\n")
        else:
            frame.to_parquet(beside, index=False)


@contextmanager
def written_whole(path: Path) -> Iterator[Path]:
    """Give a file beside the target to write into; it takes the target's name at the end, or goes away on a fault."""
    beside = path.with_name(f".{uuid4().hex}-{path.name}")
    try:
        yield beside
        beside.replace(path)
    except BaseException:
        beside.unlink(missing_ok=True)
        raise


def _read(path: Path) -> _Source:
    suffix = checked_suffix(path)
    try:
        table, first_row = (_csv(path), 2) if suffix == ".csv" else (parquet.read_table(path), 1)
    except (pa.ArrowInvalid, UnicodeDecodeError) as error:
        found = re.search(r"Row #(\d+)", str(error))
        row = int(found.group(1)) if found else None
        raise DemandTableError(
            "{file} is no {kind} table: {error!s}", file=path.name, kind=suffix[1:], error=error, row=row
        ) from error
    # Without the notes that pandas leaves in a file, an index comes back as a column.
    source = _Source(table.to_pandas(ignore_metadata=True), first_row)
    twice = source.frame.columns[source.frame.columns.duplicated()]
    if len(twice):
        raise source.fault(-1, str(twice[0]), message("occurs twice"))
    return source


def _csv(path: Path) -> pa.Table:
    """Read all cells as text: what is no number must be shown as it stands."""
    with path.open(newline="", encoding="utf-8-sig") as file:
        header = next(csv.reader(file), [])
    return arrow_csv.read_csv(
        path,
        # One thread, so that a fault has its row; an empty line is a fault, or the rows after it would be misnumbered.
        read_options=arrow_csv.ReadOptions(use_threads=False),
        parse_options=arrow_csv.ParseOptions(ignore_empty_lines=False),
        convert_options=arrow_csv.ConvertOptions(column_types=dict.fromkeys(header, pa.string())),
    )


def _from_wide(source: _Source) -> pd.DataFrame:
    periods = _periods(source)
    _check_ascending(source, periods)
    _check_gaps(source, periods, at=np.arange(len(periods)))
    skus = [name for name in source.frame.columns if name != PERIOD]
    return pd.DataFrame({sku: _quantities(source, sku) for sku in skus}, index=periods)


def _from_long(source: _Source) -> pd.DataFrame:
    periods, quantity = _periods(source), _quantities(source, QUANTITY)
    sku = source.frame[SKU].astype(str).to_numpy()
    if (is_nameless := source.frame[SKU].isna().to_numpy() | (sku == "")).any():
        raise source.fault(int(is_nameless.argmax()), SKU, message("a SKU needs a name"))
    column, skus = pd.factorize(sku, sort=True)
    axis = periods.unique().sort_values()
    row = axis.get_indexer(periods)
    _check_twice(source, cell=row * len(skus) + column)
    _check_gaps(source, axis, at=pd.Series(np.arange(row.size)).groupby(row).first().to_numpy())
    units, is_there = np.full((len(axis), len(skus)), np.nan), np.zeros((len(axis), len(skus)), dtype=bool)
    units[row, column], is_there[row, column] = quantity, True
    is_missing = ~is_there & (np.cumsum(is_there, axis=0) > 0)
    if is_missing.any():
        period, k = (int(i) for i in np.argwhere(is_missing)[0])
        before = int(np.flatnonzero((column == k) & (row == period - 1))[0])
        says = message("SKU {sku!r} has no row for the next period, {period}", sku=skus[k], period=_text(axis[period]))
        raise source.fault(before, PERIOD, says)
    return pd.DataFrame(units, index=axis, columns=pd.Index(skus))


def _periods(source: _Source) -> pd.Index:
    """Return the periods as dates or whole numbers; the first row says which."""
    given = source.frame[PERIOD]
    if isinstance(given.dtype, np.dtype) and given.dtype.kind in "iu":
        return _whole(given.to_numpy(dtype=np.int64))
    text = given.astype(str).str.strip()
    is_number = text.str.fullmatch(r"\d{1,9}")
    if is_number.iloc[0]:
        if not is_number.all():
            at = int((~is_number).to_numpy().argmax())
            says = message("must be a whole number as in the rows before; got {value!r}", value=given.iloc[at])
            raise source.fault(at, PERIOD, says)
        return _whole(text.to_numpy(dtype=np.int64))
    dates = pd.to_datetime(text.str.removesuffix(" 00:00:00"), format="%Y-%m-%d", errors="coerce")
    if dates.isna().any():
        at = int(dates.isna().to_numpy().argmax())
        raise source.fault(at, PERIOD, message("must be a date as 2027-03-01; got {value!r}", value=given.iloc[at]))
    return pd.DatetimeIndex(dates.to_numpy())


def _whole(numbers: NDArray[np.int64]) -> pd.Index:
    periods: pd.Index = pd.Index(numbers)
    return periods


def _quantities(source: _Source, column: str) -> FloatArray:
    """Return a column as numbers >= 0, NaN where the cell is empty."""
    given = source.frame[column]
    is_text = given.dtype.kind not in "iuf"
    is_empty = given.isna() | (given == "") if is_text else given.isna()
    units = pd.to_numeric(given, errors="coerce").to_numpy(dtype=float, na_value=np.nan)
    is_bad = (np.isnan(units) & ~is_empty.to_numpy()) | np.isinf(units) | (units < 0)
    if is_bad.any():
        at = int(is_bad.argmax())
        says = message("must be a number >= 0, or empty where unknown; got {value!r}", value=given.iloc[at])
        raise source.fault(at, column, says)
    return units


def _check_ascending(source: _Source, periods: pd.Index) -> None:
    is_back = np.asarray(periods[1:] <= periods[:-1])
    if is_back.any():
        at = int(is_back.argmax()) + 1
        if periods[at] in periods[:at]:
            raise source.fault(at, PERIOD, message("{period} occurs twice", period=_text(periods[at])))
        before = _text(periods[at - 1])
        says = message("periods must ascend; {period} comes after {before}", period=_text(periods[at]), before=before)
        raise source.fault(at, PERIOD, says)


def _check_twice(source: _Source, *, cell: NDArray[np.intp]) -> None:
    is_twice = pd.Series(cell).duplicated().to_numpy()
    if is_twice.any():
        at = int(is_twice.argmax())
        first = source.first_row + int((cell == cell[at]).argmax())
        row = source.frame.iloc[at]
        says = message(
            "{period!s} of SKU {sku!r} occurs twice, first in row {first}",
            period=row[PERIOD],
            sku=row[SKU],
            first=first,
        )
        raise source.fault(at, PERIOD, says)


def _check_gaps(source: _Source, periods: pd.Index, *, at: NDArray[np.intp]) -> None:
    """Raise if a period is missing; ``at`` is where each period stands in the table."""
    gap = first_gap(periods)
    if gap is not None:
        following, missing = gap
        says = message("{missing} is missing before {next}", missing=_text(missing), next=_text(periods[following]))
        raise source.fault(int(at[following]), PERIOD, says)


def _text(period: object) -> str:
    return f"{period:%Y-%m-%d}" if isinstance(period, pd.Timestamp) else str(period)
