"""Every twelfth real basket of a year through load, import, forecast, targets and make list."""

from __future__ import annotations

import pandas as pd
import pytest
from django.db.models import Sum

from inventory.models import Order, OrderLine, OrderLineChange
from inventory.selectors.check import check_books
from tests.real_data.mapping import N_PRODUCTS
from tests.real_data.planning import RealOrders, import_real_orders, plan, write_real_orders

WEEKS = 52
EVERY_BASKET = 12


@pytest.fixture(scope="module")
def real(tmp_path_factory: pytest.TempPathFactory) -> RealOrders:
    return write_real_orders(tmp_path_factory.mktemp("real"), weeks=WEEKS, every_basket=EVERY_BASKET)


@pytest.mark.django_db
def test_real_orders_enter_the_books_whole_and_lead_to_a_ranked_list(real: RealOrders) -> None:
    import_real_orders(real)
    ordered = OrderLineChange.objects.filter(reason="placed").aggregate(spools=Sum("delta"))["spools"]
    assert Order.objects.count() == real.table["reference"].nunique()
    assert OrderLine.objects.count() == len(real.table)
    assert ordered == real.table["quantity"].sum()
    assert OrderLine.objects.values("sku").distinct().count() == N_PRODUCTS
    assert check_books() == []
    made = plan(real)
    assert [run.rank for run in made.runs.all()] == list(range(1, made.runs.count() + 1))
    assert made.misses_with < made.misses_without
    scores = pd.DataFrame(made.forecast_run.benchmarks)
    # Every method meets the same windows of the risk period, the benchmarks among them.
    overall = scores[scores["demand_class"] == "all"].set_index("method")
    assert overall.loc[overall["is_benchmark"], "windows"].min() > 100
    assert overall.loc["chosen", "loss"] < overall.loc["seasonal naive", "loss"]
