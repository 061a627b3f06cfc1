"""Levels SBA + TSB in series per CPU-second against statsforecast on the same matrix in the same run.

Run as ``python -m tests.benches.bench_levels``. The peer works on the first 400 series, which is enough to time it;
the answers of both are compared there. Goal: at least 4 times the peer with one constant.
"""

from __future__ import annotations

import os
import platform
import time
from collections.abc import Callable

import numpy as np
from statsforecast.models import TSB, CrostonSBA

from forecasting.methods.croston import sba_level
from forecasting.methods.events import events_of
from forecasting.methods.tsb import tsb_level

SERIES, PERIODS, PEER_SERIES, REPEATS, GOAL = 2_000, 730, 400, 5, 4.0


def demand_matrix(seed: int = 1) -> np.ndarray:
    """Return invented sporadic demand: rates from one sale in 100 days to several a day, sizes overdispersed."""
    rng = np.random.default_rng(seed)
    rate = np.exp(rng.uniform(np.log(0.01), np.log(3.0), size=(SERIES, 1)))
    return rng.poisson(rng.gamma(0.8, rate / 0.8, size=(SERIES, PERIODS))).astype(float)


def levels(units: np.ndarray) -> np.ndarray:
    """Return SBA and TSB levels from the matrix alone, events collected anew."""
    sold = events_of(units)
    return np.array([sba_level(sold, constant=0.1), tsb_level(sold, size_constant=0.1, probability_constant=0.05)])


def peer_levels(units: np.ndarray) -> np.ndarray:
    """Return the same from statsforecast, series by series as its interface asks."""
    sba, tsb = CrostonSBA(), TSB(alpha_d=0.1, alpha_p=0.05)
    return np.array([[model.forecast(y=row, h=1)["mean"][0] for row in units] for model in (sba, tsb)])


def cpu_seconds(work: Callable[[np.ndarray], np.ndarray], units: np.ndarray) -> float:
    """Return the least of several runs after one to warm up (the peer compiles then)."""
    work(units)
    runs = []
    for _ in range(REPEATS):
        start = time.process_time()
        work(units)
        runs.append(time.process_time() - start)
    return min(runs)


def main() -> None:
    """Print both speeds, their ratio, the machine and the largest difference of the answers."""
    units = demand_matrix()
    few = units[:PEER_SERIES]
    difference = np.max(np.abs(levels(units)[:, :PEER_SERIES] / peer_levels(few) - 1.0))
    ours, peer = SERIES / cpu_seconds(levels, units), PEER_SERIES / cpu_seconds(peer_levels, few)
    print(f"SBA + TSB, one constant, {SERIES} x {PERIODS}, {np.mean(units > 0):.0%} of periods with demand")
    print(f"  ours          {ours:12,.0f} series per CPU-second")
    print(f"  statsforecast {peer:12,.0f} series per CPU-second")
    print(f"  ratio {ours / peer:.1f} (goal {GOAL:g}); largest relative difference {difference:.1e}")
    print(f"  {platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, numpy {np.__version__}")
    if difference > 1e-9:
        raise SystemExit("the answers differ by more than 1e-9")
    if ours < GOAL * peer:
        raise SystemExit(f"less than {GOAL:g} times the peer")


if __name__ == "__main__":
    main()
