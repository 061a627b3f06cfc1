"""Orders x sizes: what is learned where the orders behind the demand are counted."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from forecasting import ForecastingError, forecast
from forecasting.compound import HALF_TRUST_ORDERS, compound_rate, order_sizes
from forecasting.credibility import RatePrior
from forecasting.methods.candidates import candidates_for
from forecasting.past import Past, Setting
from forecasting.pooling import phases_of

NO_DESIGN = np.zeros((1, 0))


def _ordered(rng: np.random.Generator, *, rate: float, sizes: list[float], shape: tuple[int, int]) -> tuple:
    """Return units and orders: Poisson numbers of orders, each of one of the sizes."""
    of_each = rng.poisson(rate / len(sizes), size=(len(sizes), *shape))
    return np.tensordot(np.array(sizes), of_each, axes=1), of_each.sum(axis=0).astype(float)


def test_sizes_are_read_from_periods_of_several_orders() -> None:
    # Three orders a period, half of one piece and half of nine: E S = 5, E S^2 = (1 + 81) / 2 = 41 (by hand).
    units, orders = _ordered(np.random.default_rng(1), rate=3.0, sizes=[1.0, 9.0], shape=(1, 20_000))
    sizes = order_sizes(units, orders, design=NO_DESIGN)
    assert sizes.mean[0] == pytest.approx(5.0, rel=0.01)
    assert sizes.second_moment[0] == pytest.approx(41.0, rel=0.02)


def test_sku_with_few_orders_borrows_the_spread_of_sizes() -> None:
    units, orders = _ordered(np.random.default_rng(2), rate=3.0, sizes=[1.0, 9.0], shape=(20, 2_000))
    units, orders = np.vstack([units, np.eye(1, 2_000) * 5.0]), np.vstack([orders, np.eye(1, 2_000)])
    sizes = order_sizes(units, orders, design=np.zeros((21, 0)))
    # By hand: one order of 5 shows no spread of its own; the others' is 16 / 25 of the squared mean.
    relative = HALF_TRUST_ORDERS * 0.64 / (HALF_TRUST_ORDERS + 1.0)
    assert sizes.second_moment[20] == pytest.approx(sizes.mean[20] ** 2 * (1.0 + relative), rel=0.03)


def test_rate_of_orders_forgets_what_is_old() -> None:
    orders = np.concatenate([np.full(50, 4.0), np.ones(50)])[None, :]
    sizes = order_sizes(2.0 * orders, orders, design=NO_DESIGN)
    keep = 0.8
    exposure = np.array([(1 - keep**100) / (1 - keep)])
    rate = compound_rate(orders, exposure, keep=keep, prior=RatePrior(np.ones(1), 1e-6, ""), sizes=sizes)
    # By hand: the geometric weights of the last 50 periods are all but 1e-5 of the whole.
    assert rate.orders[0] == pytest.approx(1.0, abs=1e-3)
    assert rate.mean[0] == pytest.approx(2.0, abs=1e-3)
    assert rate.variance[0] == pytest.approx(4.0, abs=1e-2)


def test_outlook_has_the_moments_and_the_zeros_of_compound_poisson_demand() -> None:
    # Compound Poisson: mean a E S, variance a E S^2, P(0) = exp(-a) (Klugman, Panjer & Willmot, Loss Models, ch. 9;
    # from memory), here simulated beside it.
    rng = np.random.default_rng(3)
    units, orders = _ordered(rng, rate=0.1, sizes=[1.0, 9.0], shape=(40, 1_000))
    index = pd.RangeIndex(1_000)
    setting = Setting(
        skus=pd.RangeIndex(40),
        units=units,
        phases=phases_of(index, longest=10, calendar=None, season_length=1),
        group=np.zeros(40, dtype=np.int64),
        attributes=None,
        uplift=None,
        longest=10,
        orders=orders,
    )
    (method,) = [c for c in candidates_for(has_season=False, has_orders=True) if c.name == "orders, all sales"]
    said = method.outlook(Past(setting, 1_000))
    came, _ = _ordered(rng, rate=1.0, sizes=[1.0, 9.0], shape=(1, 400_000))
    assert said.mean[:, 9].mean() == pytest.approx(came.mean(), rel=0.05)
    assert said.variance[:, 9].mean() == pytest.approx(came.var(), rel=0.1)
    assert said.idle[:, 9].mean() == pytest.approx(np.mean(came == 0), abs=0.02)


def test_methods_of_orders_get_the_say_where_demand_comes_in_dozens() -> None:
    units, orders = _ordered(np.random.default_rng(5), rate=0.3, sizes=[12.0], shape=(60, 300))
    days = pd.bdate_range("2026-01-05", periods=300)
    history, counted = (pd.DataFrame(part.T, index=days) for part in (units, orders))
    found = forecast(history, horizons=[1, 2], orders=counted)
    assert found.method.str.startswith("orders").all()


@pytest.mark.parametrize(
    ("count", "words"),
    [(0.0, "orders must be where demand is"), (1.5, "whole"), (-1.0, "whole"), (np.nan, "whole")],
    ids=["none", "a half", "negative", "unknown"],
)
def test_number_of_orders_is_refused_with_its_place(count: float, words: str) -> None:
    history = pd.DataFrame({"A": [0.0, 3.0, 0.0, 1.0]})
    orders = pd.DataFrame({"A": [0.0, count, 0.0, 1.0]})
    with pytest.raises(ForecastingError, match=words) as refusal:
        forecast(history, horizons=[1], orders=orders)
    assert "row 1, column 'A'" in str(refusal.value)


def test_orders_of_other_columns_are_refused() -> None:
    history = pd.DataFrame({"A": [0.0, 3.0]})
    with pytest.raises(ForecastingError, match="rows and columns of the history"):
        forecast(history, horizons=[1], orders=history.rename(columns={"A": "B"}))
