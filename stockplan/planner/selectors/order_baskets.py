"""The baskets of the books, as an order target takes them."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forecasting.basket_fill import Baskets
from inventory.models import Sku
from stockplan.planner.core.basket_model import TargetInput
from stockplan.planner.selectors.demand_basis import DemandBasis

Floats = NDArray[np.float64]


def target_input(basis: DemandBasis, *, lead_days: Floats, review_days: Floats) -> TargetInput | None:
    """Return recent orders of SKUs that are stocked and on sale; None if there is none. One query.

    An order with a line that is made to order is no promise of the shelf. Rows of the arrays are in the order of
    `basis.attributes`; days are rounded up to whole ship days.
    """
    sku_ids = basis.attributes.index
    lines = _stocked_orders(basis)
    if lines.empty:
        return None
    value = dict(Sku.objects.values_list("pk", "value"))
    order, _ = pd.factorize(lines["order_id"])
    return TargetInput(
        baskets=Baskets(order, sku_ids.get_indexer(pd.Index(lines["sku_id"])), lines["quantity"].to_numpy(np.int64)),
        orders_per_day=lines["order_id"].nunique() / lines["due_day"].nunique(),
        value=np.array([float(value[sku]) for sku in sku_ids]),
        lead_days=np.ceil(lead_days - 1e-9).astype(np.int64),
        review_days=np.ceil(review_days - 1e-9).astype(np.int64),
    )


def _stocked_orders(basis: DemandBasis) -> pd.DataFrame:
    is_kept = basis.is_stocked & basis.is_on_sale
    from_shelf = basis.recent_lines["sku_id"].map(is_kept).astype(bool)
    return basis.recent_lines[from_shelf.groupby(basis.recent_lines["order_id"]).transform("all")]
