"""Completeness of whole orders against published multi-item values and by simulation."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from forecasting.errors import ParameterError
from forecasting.order_fill import order_fill_bounds, order_fill_if_independent, simulate_order_fill

Published = Callable[[str], dict[str, Any]]


def test_product_and_bonferroni_equal_published_values(published: Published) -> None:
    entry = published("Independent items")  # Hausman, Lee & Zhang (1998), EJOR 109, 646-659
    item = np.array(entry["inputs"]["item_fill"])
    lines = {"order": np.zeros(3, int), "item": np.arange(3)}
    assert order_fill_if_independent(item, **lines)[0] == pytest.approx(entry["expected"]["order_fill"], abs=1e-12)
    assert order_fill_bounds(item, **lines)[0][0] == pytest.approx(entry["expected"]["bonferroni"], abs=1e-12)


def test_bounds_equal_published_multi_item_values(published: Published) -> None:
    expected = published("Multi-item order fill")["expected"]  # Song (1998), Operations Research 46, 831-845
    item, lines = np.array(expected["item_fill"]), {"order": np.zeros(2, int), "item": np.arange(2)}
    product, (lower, upper) = order_fill_if_independent(item, **lines), order_fill_bounds(item, **lines)
    names = ("product_lower_bound", "bonferroni_lower", "min_upper_bound")
    np.testing.assert_allclose([product[0], lower[0], upper[0]], [expected[name] for name in names], atol=1e-12)


def test_simulation_equals_published_multi_item_values(published: Published) -> None:
    entry = published("Multi-item order fill")
    simulated = simulate_order_fill(
        [[0], [1], [0, 1]],
        rates=np.array([1.0, 0.5, 1.5]),
        base_stock=np.array(entry["inputs"]["base_stock"]),
        lead_periods=entry["inputs"]["lead_time"],
        orders=200_000,
        rng=np.random.default_rng(4),
    )
    exact = [*entry["expected"]["item_fill"], entry["expected"]["order_fill_12"]]
    # 180,000 counted orders: standard errors of 0.001 to 0.002 by batch means.
    assert np.all(simulated.standard_error < 0.003)
    assert np.all(np.abs(simulated.share - exact) <= 3.5 * simulated.standard_error)


def test_order_without_availability_of_one_line_is_never_complete() -> None:
    share = order_fill_if_independent(np.array([0.0, 1.0]), order=np.array([0, 0, 1]), item=np.array([0, 1, 1]))
    np.testing.assert_array_equal(share, [0.0, 1.0])


def test_availability_is_refused_when_no_share() -> None:
    with pytest.raises(ParameterError, match="item 1"):
        order_fill_if_independent(np.array([0.5, 1.2]), order=np.array([0]), item=np.array([0]))


def test_simulation_is_refused_when_a_basket_is_too_rare() -> None:
    with pytest.raises(ParameterError, match="basket 1 is too rare"):
        simulate_order_fill(
            [[0], [1]],
            rates=np.array([1.0, 1e-9]),
            base_stock=np.array([1, 1]),
            lead_periods=1.0,
            orders=1000,
            rng=np.random.default_rng(0),
        )
