"""Demand tables are read whole or refused with row and column. The schema is ours: common practice, no source."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from forecasting.errors import DemandTableError
from forecasting.table_files import read_table, write_table

WIDE = "period,B,A\n2027-03-01,1,0\n2027-03-02,,2.5\n2027-03-03,3,4\n"
LONG = (
    "sku,period,quantity\nB,2027-03-02,\nA,2027-03-01,0\nA,2027-03-03,4\n"
    "B,2027-03-01,1\nA,2027-03-02,2.5\nB,2027-03-03,3\n"
)
EXPECTED = {"A": [0.0, 2.5, 4.0], "B": [1.0, np.nan, 3.0]}


def _csv(folder: Path, text: str) -> Path:
    path = folder / "table.csv"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(("text", "skus"), [(WIDE, ["B", "A"]), (LONG, ["A", "B"])])
def test_table_is_read_in_both_forms(text: str, skus: list[str], tmp_path: Path) -> None:
    history = read_table(_csv(tmp_path, text))
    assert list(history.index) == list(pd.date_range("2027-03-01", periods=3))
    assert list(history.columns) == skus
    for sku, units in EXPECTED.items():
        np.testing.assert_array_equal(history[sku], units)


def test_names_of_skus_are_text_also_behind_a_byte_order_mark(tmp_path: Path) -> None:
    history = read_table(_csv(tmp_path, "\ufeffsku,period,quantity\n0012,1,5\n"))
    assert list(history.columns) == ["0012"]


def test_parquet_is_read_as_the_csv_is(tmp_path: Path) -> None:
    history = read_table(_csv(tmp_path, WIDE))
    history.rename_axis("period").to_parquet(tmp_path / "indexed.parquet")
    history.rename_axis("period").reset_index().to_parquet(tmp_path / "flat.parquet")
    for name in ("indexed", "flat"):
        pd.testing.assert_frame_equal(
            read_table(tmp_path / f"{name}.parquet"), history, check_freq=False, check_index_type=False
        )


def test_sku_may_start_later_in_the_long_form(tmp_path: Path) -> None:
    history = read_table(_csv(tmp_path, "period,sku,quantity\n1,A,5\n2,A,6\n2,B,7\n"))
    np.testing.assert_array_equal(history["B"], [np.nan, 7.0])
    assert list(history.index) == [1, 2]


FAULTS = {
    "negative": ("period,A,B\n1,0,2\n2,1,-3\n", 3, "B", "-3"),
    "infinite": ("period,A,B\n1,inf,2\n2,1,3\n", 2, "A", "inf"),
    "not a number": ("period,A,B\n1,0,nan\n2,1,3\n", 2, "B", "nan"),
    "text": ("period,A,B\n1,0,2\n2,three,3\n", 3, "A", "three"),
    "decimal comma": ('period,A,B\n1,0,"2,5"\n2,1,3\n', 2, "B", "2,5"),
    "twice": ("period,A,B\n2027-03-01,0,2\n2027-03-01,1,3\n", 3, "period", "2027-03-01 occurs twice"),
    "back": ("period,A,B\n2027-03-02,0,2\n2027-03-01,1,3\n", 3, "period", "ascend"),
    "gap in days": (
        "period,A\n2027-03-01,0\n2027-03-02,1\n2027-03-09,1\n2027-03-10,1\n",
        4,
        "period",
        "2027-03-03 is missing before 2027-03-09",  # a Wednesday, as the last day is
    ),
    "gap in a few days": ("period,A\n2027-03-01,0\n2027-03-02,1\n2027-03-04,1\n", 4, "period", "2027-03-03 is missing"),
    "gap in months": ("period,A\n2027-01-01,0\n2027-02-01,1\n2027-04-01,1\n", 4, "period", "2027-03-01 is missing"),
    "gap in numbers": ("period,A\n1,0\n2,1\n4,1\n", 4, "period", "3 is missing before 4"),
    "no date": ("period,A\n2027-03-01,0\n2027-02-30,1\n", 3, "period", "2027-02-30"),
    "date and time": ("period,A\n2027-03-01,0\n2027-03-02 08:00,1\n", 3, "period", "08:00"),
    "date among numbers": ("period,A\n1,0\n2027-03-02,1\n", 3, "period", "whole number"),
    "column twice": ("period,A,A\n1,0,2\n", 1, "A", "occurs twice"),
    "no period": ("day,A,B\n1,0,2\n", 1, "day", "period and one column per SKU"),
    "long twice": (
        "period,sku,quantity\n1,A,5\n1,B,6\n1,A,6\n",
        4,
        "period",
        "SKU 'A' occurs twice, first in row 2",
    ),
    "empty row": ("period,A,B\n1,0,2\n\n3,1,3\n", 3, "period", "got ''"),
    "long negative": ("period,sku,quantity\n1,A,5\n1,B,-6\n", 3, "quantity", "-6"),
    "long gap of a SKU": (
        "period,sku,quantity\n1,A,5\n1,B,6\n2,A,6\n3,A,6\n3,B,6\n",
        3,
        "period",
        "SKU 'B' has no row for the next period, 2",
    ),
    "long gap": ("period,sku,quantity\n1,A,5\n3,A,6\n", 3, "period", "2 is missing before 3"),
    "long without a name": ("period,sku,quantity\n1,A,5\n1,,6\n", 3, "sku", "needs a name"),
}


@pytest.mark.parametrize(("text", "row", "column", "says"), FAULTS.values(), ids=FAULTS)
def test_table_is_refused_with_row_and_column(text: str, row: int, column: str, says: str, tmp_path: Path) -> None:
    with pytest.raises(DemandTableError, match=rf"^row {row}, column '{column}': ") as caught:
        read_table(_csv(tmp_path, text))
    assert says in str(caught.value)
    assert (caught.value.row, caught.value.column) == (row, column)


@pytest.mark.parametrize("text", ["period,A,B\n1,0,2\n2,1\n", "period,A,B\n1,0,2\n2,1,3,4\n"])
def test_csv_is_refused_with_its_row_when_it_has_too_many_or_too_few_cells(text: str, tmp_path: Path) -> None:
    with pytest.raises(DemandTableError, match=r"table\.csv is no csv table.*Row #3") as caught:
        read_table(_csv(tmp_path, text))
    assert caught.value.row == 3


def test_parquet_is_refused_with_row_and_column(tmp_path: Path) -> None:
    path = tmp_path / "table.parquet"
    pd.DataFrame({"period": [1, 2], "A": [1.0, np.inf]}).to_parquet(path)
    with pytest.raises(DemandTableError, match=r"^row 2, column 'A': .*inf"):
        read_table(path)


@pytest.mark.parametrize("text", ["", "period,A\n"])
def test_table_is_refused_when_empty(text: str, tmp_path: Path) -> None:
    with pytest.raises(DemandTableError, match=r"at least one row|no csv table"):
        read_table(_csv(tmp_path, text))


@pytest.mark.parametrize("content", [b"\xff\xfe\x00", b"PAR1"])
def test_file_is_refused_when_it_is_not_what_its_name_says(content: bytes, tmp_path: Path) -> None:
    for name in ("table.csv", "table.parquet"):
        (tmp_path / name).write_bytes(content)
        with pytest.raises(DemandTableError):
            read_table(tmp_path / name)


def test_file_is_refused_when_its_ending_is_unknown(tmp_path: Path) -> None:
    with pytest.raises(DemandTableError, match=r"\.csv or \.parquet; got 'table\.txt'"):
        read_table(tmp_path / "table.txt")


def test_write_leaves_nothing_when_the_target_cannot_be_replaced(tmp_path: Path) -> None:
    (tmp_path / "out.csv").mkdir()
    with pytest.raises(OSError, match=r"out\.csv"):
        write_table(pd.DataFrame({"A": [1]}), tmp_path / "out.csv")
    assert [p.name for p in tmp_path.iterdir()] == ["out.csv"]


def test_write_leaves_the_old_file_and_no_other_when_it_fails(tmp_path: Path) -> None:
    path = tmp_path / "out.parquet"
    path.write_text("old")
    with pytest.raises(Exception, match="object"):
        write_table(pd.DataFrame({"A": [object()]}), path)
    assert [p.name for p in tmp_path.iterdir()] == ["out.parquet"]
    assert path.read_text() == "old"
