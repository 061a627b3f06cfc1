"""Compiles what a list and a forecast need, `python -m tests.compile_first`, while the static checks take one core.

Tests share what is compiled by then; without it each worker compiles it for itself, for more than a minute.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from forecasting import forecast
from stockplan.planner.core.parameters import PlanParameters
from stockplan.planner.core.planning import make_plan
from tests.planner.small_facts import facts, sku


def main() -> None:
    """Compute both once."""
    short = tuple(replace(sku(code, daily=3.0), shelf=4) for code in ("A", "B"))
    make_plan(facts(skus=short, parameters=PlanParameters(search_moves=50)))
    days = pd.bdate_range("2026-01-05", periods=120)
    units = np.random.default_rng(1).poisson(1.5, (len(days), 3)).astype(float)
    table = pd.DataFrame(units, index=days, columns=["A", "B", "C"])
    coming = pd.bdate_range(days[-1] + pd.Timedelta(days=1), periods=10)
    forecast(table, horizons=[1, 5, 10], calendar=coming, orders=np.minimum(table, 1.0))


if __name__ == "__main__":
    main()
