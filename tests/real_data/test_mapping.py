"""The rule that maps the real orders, on rows counted by hand."""

from __future__ import annotations

import pandas as pd
import pytest

from tests.real_data.mapping import order_table, ranked_skus, regular_products, sound_lines, source_lines


def transactions(*rows: tuple[int, int, int, str]) -> pd.DataFrame:
    frame = pd.DataFrame(rows, columns=["basket_id", "product_id", "quantity", "transaction_timestamp"])
    return frame.assign(transaction_timestamp=pd.to_datetime(frame["transaction_timestamp"]))


def test_sound_lines_drop_fuel_coupons_and_absurd_quantities() -> None:
    products = pd.DataFrame({"product_id": [1, 2, 3], "product_category": ["EGGS", "FUEL", "COUPON/MISC ITEMS"]})
    lines = transactions(
        (9, 1, 0, "2017-01-01"),
        (9, 1, 1, "2017-01-01"),
        (9, 1, 100, "2017-01-01"),
        (9, 1, 101, "2017-01-01"),
        (9, 2, 5, "2017-01-01"),
        (9, 3, 1, "2017-01-01"),
    )
    assert sound_lines(lines, products=products)["quantity"].tolist() == [1, 100]


def test_regular_products_sold_on_most_days_then_in_most_lines_then_lowest_number() -> None:
    lines = transactions(
        (1, 70, 50, "2017-01-01 10:00"),
        (2, 60, 1, "2017-01-01 10:00"),
        (3, 60, 1, "2017-01-02 10:00"),
        (4, 50, 1, "2017-01-01 10:00"),
        (5, 50, 1, "2017-01-02 10:00"),
        (6, 50, 1, "2017-01-02 11:00"),
        (7, 40, 9, "2017-01-01 10:00"),
    )
    assert regular_products(lines, count=3) == [50, 60, 40]


def test_ranked_skus_are_the_stocked_ones_lightest_first() -> None:
    skus = pd.DataFrame(
        {"code": ["B", "A", "C", "D"], "spool_size": ["L", "S", "S", "S"], "is_stocked": ["yes", "yes", "yes", "no"]}
    )
    assert ranked_skus(skus, net_g=pd.Series({"S": 250, "L": 1000})) == ["A", "C", "B"]


def test_order_table_keeps_baskets_instants_and_quantities() -> None:
    lines = transactions(
        (8, 20, 3, "2017-01-03 09:05:07"), (8, 10, 1, "2017-01-03 09:05:07"), (9, 30, 1, "2017-01-04 12:00:00")
    )
    table = order_table(lines, products=[10, 20], skus=["A", "B", "C"])
    assert table["reference"].tolist() == ["8", "8"]
    assert table["received_at"].unique().tolist() == ["2017-01-03T09:05:07Z"]
    assert list(zip(table["sku"], table["quantity"], strict=True)) == [("A", 1), ("B", 3)]


def test_order_table_refuses_more_products_than_skus() -> None:
    with pytest.raises(ValueError, match="zip"):
        order_table(transactions((8, 20, 3, "2017-01-03")), products=[10, 20], skus=["A"])


def test_source_has_the_shape_that_the_rule_expects() -> None:
    lines, products = source_lines()
    assert products["product_id"].is_unique
    assert set(lines["transaction_timestamp"].dt.year.unique()) <= {2017, 2018}
    # 2,469 households over one year (as the package's own documentation says).
    assert lines["household_id"].nunique() == 2469
