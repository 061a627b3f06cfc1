"""A bad table is refused with its row and column. The rules are ours: common practice, no source."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from forecasting.demand import demand_of
from forecasting.errors import DemandTableError

DAYS = pd.to_datetime(["2026-03-02", "2026-03-03", "2026-03-04"])


def _table(**columns: list[object]) -> pd.DataFrame:
    return pd.DataFrame(columns, index=DAYS)


def test_demand_keeps_unknown_periods_as_unknown() -> None:
    demand = demand_of(_table(A=[np.nan, 2.0, 0.0], B=[1.0, 0.0, 3.0]))
    np.testing.assert_array_equal(demand.units, [[np.nan, 2.0, 0.0], [1.0, 0.0, 3.0]])


@pytest.mark.parametrize("bad", [-1.0, np.inf, "three"])
def test_demand_names_row_and_column_when_a_value_is_bad(bad: object) -> None:
    with pytest.raises(DemandTableError, match=r"2026-03-03.*'B'") as caught:
        demand_of(_table(A=[1.0, 2.0, 3.0], B=[1.0, bad, 3.0]))
    assert (caught.value.row, caught.value.column) == (DAYS[1], "B")


def test_demand_names_the_row_when_a_date_is_twice() -> None:
    table = pd.DataFrame({"A": [1.0, 2.0]}, index=pd.to_datetime(["2026-03-02", "2026-03-02"]))
    with pytest.raises(DemandTableError, match=r"2026-03-02.*occurs twice"):
        demand_of(table)


def test_demand_names_the_row_when_periods_do_not_ascend() -> None:
    with pytest.raises(DemandTableError, match=r"2026-03-02.*comes after.*2026-03-03"):
        demand_of(_table(A=[1.0, 2.0, 3.0]).iloc[[1, 0, 2]])


def test_demand_names_the_column_when_a_sku_is_twice() -> None:
    table = pd.DataFrame([[1.0, 2.0]], index=DAYS[:1], columns=["A", "A"])
    with pytest.raises(DemandTableError, match="'A' occurs twice"):
        demand_of(table)


def test_demand_is_refused_when_empty() -> None:
    with pytest.raises(DemandTableError, match="at least one period and one SKU"):
        demand_of(pd.DataFrame())


def test_demand_is_as_it_was_seen_when_sold_for_part_of_a_period_and_unknown_when_for_none() -> None:
    share = _table(A=[1.0, 0.5, 0.0])
    units = demand_of(_table(A=[4.0, 4.0, 0.0]), available=share).units
    # The share is a factor of the period; nothing is known of a day without stock.
    np.testing.assert_array_equal(units, [[4.0, 4.0, np.nan]])


def test_availability_is_refused_when_not_a_share() -> None:
    with pytest.raises(DemandTableError, match=r"share in \[0, 1\].*1.5.*2026-03-04"):
        demand_of(_table(A=[4.0, 4.0, 0.0]), available=_table(A=[1.0, 1.0, 1.5]))
