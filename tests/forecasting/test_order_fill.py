"""Completeness of whole orders against published multi-item values."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from forecasting.errors import ParameterError
from forecasting.order_fill import order_fill_if_independent

Published = Callable[[str], dict[str, Any]]


def test_product_equals_published_value(published: Published) -> None:
    entry = published("Independent items")  # Hausman, Lee & Zhang (1998), EJOR 109, 646-659
    item = np.array(entry["inputs"]["item_fill"])
    lines = {"order": np.zeros(3, int), "item": np.arange(3)}
    assert order_fill_if_independent(item, **lines)[0] == pytest.approx(entry["expected"]["order_fill"], abs=1e-12)


def test_product_equals_published_multi_item_value_below_the_true_one(published: Published) -> None:
    expected = published("Multi-item order fill")["expected"]  # Song (1998), Operations Research 46, 831-845
    item, lines = np.array(expected["item_fill"]), {"order": np.zeros(2, int), "item": np.arange(2)}
    product = order_fill_if_independent(item, **lines)[0]
    assert product == pytest.approx(expected["product_lower_bound"], abs=1e-12)
    assert product < expected["order_fill_12"]


def test_order_without_availability_of_one_line_is_never_complete() -> None:
    share = order_fill_if_independent(np.array([0.0, 1.0]), order=np.array([0, 0, 1]), item=np.array([0, 1, 1]))
    np.testing.assert_array_equal(share, [0.0, 1.0])


def test_availability_is_refused_when_no_share() -> None:
    with pytest.raises(ParameterError, match="item 1"):
        order_fill_if_independent(np.array([0.5, 1.2]), order=np.array([0]), item=np.array([0]))
