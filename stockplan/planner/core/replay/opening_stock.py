"""What lies on the shelf on the first morning where the books do not say it."""

from __future__ import annotations

import numpy as np

from stockplan.planner.core.facts import PlanFacts
from stockplan.planner.core.replay.morning import MorningForecast

# Multiples of it, less whole numbers, are spread evenly over [0, 1) whatever their count (golden ratio).
EVEN_STEP = (5**0.5 - 1) / 2


def spread_levels(plant: PlanFacts, morning: MorningForecast) -> dict[str, int]:
    """Return a shelf on which each filament is somewhere between two of its runs.

    A SKU has its order-up-to level less the part that sold since its filament's last run; the filaments are spread
    evenly over their intervals, so that they do not all run short together.
    """
    filaments = sorted({sku.filament for sku in plant.skus})
    passed = {code: ((i + 0.5) * EVEN_STEP) % 1.0 for i, code in enumerate(filaments)}
    daily = morning.mean[:, -1] / morning.mean.shape[1]
    sold = np.array([passed[sku.filament] for sku in plant.skus]) * morning.review_days * daily
    left = np.maximum(morning.order_up_to - np.floor(sold), 0).astype(int)
    return {sku.code: int(n) for sku, n in zip(plant.skus, left, strict=True)}
