"""Published check values and small invented demand tables."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

REFERENCE = Path(__file__).resolve().parents[2] / "fixtures" / "reference"


def _entries(name: str) -> dict[str, Any]:
    return {entry["name"]: entry for entry in json.loads((REFERENCE / f"{name}.json").read_text())}


@pytest.fixture(scope="session")
def published() -> Callable[[str], dict[str, Any]]:
    """Entry of fixtures/reference whose name starts with the given words; each entry carries its own source."""
    entries = _entries("forecasting") | _entries("stock_targets")

    def entry(start: str) -> dict[str, Any]:
        (found,) = [e for name, e in entries.items() if name.startswith(start)]
        return found

    return entry


@pytest.fixture(scope="session")
def sporadic() -> np.ndarray:
    """60 invented SKUs x 300 periods, from hardly ever sold to sold daily; the last one never."""
    rng = np.random.default_rng(7)
    rate = np.append(np.geomspace(0.02, 8.0, 59), 0.0)
    return rng.poisson(rng.gamma(1.5, rate[:, None] / 1.5, size=(60, 300))).astype(float)


@pytest.fixture(scope="session")
def ship_days() -> pd.DataFrame:
    """40 invented SKUs on 200 weekdays, busy Mondays, some launched half-way."""
    rng = np.random.default_rng(11)
    days = pd.bdate_range("2026-01-05", periods=200)
    by_weekday = np.array([2.0, 1.0, 0.8, 0.7, 0.5])
    rate = np.geomspace(0.1, 6.0, 40)
    units = rng.poisson(rate * by_weekday[days.day_of_week][:, None]).astype(float)
    units[:120, ::9] = np.nan
    return pd.DataFrame(units, index=days, columns=[f"S{i:02d}" for i in range(40)])
