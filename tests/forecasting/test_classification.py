"""Demand classes against the published cut-offs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from forecasting.classification import class_by_cuts, demand_classes, interval_and_variation
from forecasting.methods.events import events_of


def test_classes_equal_published_cut_offs(published: Callable[[str], dict[str, Any]]) -> None:
    # Syntetos, Boylan & Croston (2005), JORS 56(5), 495-503; side of the boundary as in the CRAN m5 documentation.
    entry = published("Demand classification")
    interval, variation = np.array(entry["inputs"]["cases"]).T
    assert class_by_cuts(interval, variation).tolist() == entry["expected"]["labels"]


def test_interval_and_variation_equal_hand_calculation() -> None:
    # By hand: 3 demands in 6 periods; sizes 2, 4, 6 have mean 4 and variance 8/3, so 1/6 of the squared mean.
    interval, variation = interval_and_variation(events_of(np.array([[2.0, 0.0, 4.0, 0.0, 0.0, 6.0]])))
    np.testing.assert_allclose([interval[0], variation[0]], [2.0, 1 / 6])


def test_class_is_new_when_the_record_is_short_and_sparse_when_hardly_sold() -> None:
    # The two limits (20 periods, 3 demands) are ours: common practice, no source.
    short = np.full(40, np.nan)
    short[-19:] = 1.0
    twice = np.zeros(40)
    twice[[3, 30]] = 1.0
    assert demand_classes(events_of(np.array([short, twice, np.ones(40)]))).tolist() == ["new", "sparse", "smooth"]
