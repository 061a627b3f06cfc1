"""Speed of the whole forecast and of exact quantiles against general-purpose peers in the same run.

Run as ``python -m tests.benches.bench_forecast_speed``, with ``--large`` for 100,000 SKUs too. The whole forecast
(every method at every rolling origin, mixture, quantiles, sentences) stands against statsforecast's IMAPA, one method
without quantiles, timed on a sample of the same series. Exact quantiles of twenty days stand against 1,000 simulated
paths of the same negative binomials. Goals: at least as fast as IMAPA below 4 GiB and linear in SKUs; 74 times the
paths.
"""

from __future__ import annotations

import argparse
import resource

import numpy as np
import pandas as pd
from statsforecast.models import IMAPA

from forecasting import demand_of_days, forecast
from tests.benches.bench_levels import MOST_DEMAND, PERIODS, cpu_seconds, demand_matrix, once
from tests.benches.machine import machine

HORIZONS, QUANTILES = (1, 3, 5, 10), (0.5, 0.8, 0.9, 0.95, 0.98, 0.99)
WARM_UP_SKUS, SAMPLE, MOST_MEMORY_GIB = 200, 200, 4.0
DAYS, PATHS, PATHS_GOAL = 20, 1_000, 74.0
FACTOR = np.array([1.6, 1.1, 0.9, 0.8, 0.6])


def forecast_seconds(most: float, n_skus: int) -> float:
    """Return CPU seconds of a forecast of daily SKUs, table of quantiles included."""
    days = pd.date_range("2025-01-01", periods=PERIODS + HORIZONS[-1])
    history = pd.DataFrame(demand_matrix(most, n_skus=n_skus).T, index=days[:PERIODS])
    calendar = days[PERIODS:]
    return once(lambda: forecast(history, horizons=HORIZONS, quantiles=QUANTILES, calendar=calendar).to_frame())


def imapa_seconds_each(most: float) -> float:
    """Return CPU seconds of the peer per series."""
    sample, model = demand_matrix(most, n_skus=SAMPLE), IMAPA()
    model.forecast(y=sample[0], h=1)
    return once(lambda: [model.forecast(y=row, h=HORIZONS[-1]) for row in sample]) / SAMPLE


def compare_forecast(most: float, sizes: list[int]) -> None:
    """Print the cost by number of SKUs beside the peer's."""
    density, peer = np.mean(demand_matrix(most, n_skus=SAMPLE) > 0), imapa_seconds_each(most)
    print(f"daily SKUs x {PERIODS}, {density:.0%} of periods with demand; IMAPA {1_000 * peer:.2f} CPU-ms per series")
    for n_skus in sizes:
        ours = forecast_seconds(most, n_skus)
        memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20
        print(f"  {n_skus:7,} SKUs {ours:7.1f} CPU-s, {1_000 * ours / n_skus:.2f} ms each: ", end="")
        print(f"{peer * n_skus / ours:.2f} times IMAPA (goal 1); ", end="")
        print(f"peak so far {memory:.1f} GiB (goal {MOST_MEMORY_GIB:g})")


def simulated(mean: np.ndarray, size: np.ndarray, weekday: np.ndarray) -> np.ndarray:
    """Return quantiles of the sums of simulated days, all SKUs and paths at once."""
    daily = (mean[:, None] * FACTOR)[:, weekday]
    rng, shape = np.random.default_rng(1), (PATHS, *daily.shape)
    paths = rng.poisson(rng.gamma(size[:, None], daily / size[:, None], size=shape)).sum(axis=2)
    return np.quantile(paths, QUANTILES, axis=0, method="inverted_cdf").T


def compare_quantiles(n_skus: int = 2_000) -> None:
    """Print exact quantiles against simulation."""
    rng, weekday = np.random.default_rng(2), np.arange(DAYS) % FACTOR.size
    mean, size = np.exp(rng.uniform(np.log(0.01), np.log(3.0), size=n_skus)), rng.uniform(0.3, 3.0, size=n_skus)
    factor = np.tile(FACTOR, (n_skus, 1))

    def exact() -> np.ndarray:
        return demand_of_days(mean=mean, size=size, factor=factor, weekday=weekday).ppf(QUANTILES)

    differs = np.mean(exact()[:, -1] != simulated(mean, size, weekday)[:, -1])
    ours, peer = cpu_seconds(exact), once(lambda: simulated(mean, size, weekday))
    print(
        f"quantiles of {DAYS} days, {n_skus:,} SKUs: exact {1_000 * ours:.1f} CPU-ms, {PATHS:,} paths {peer:.1f} CPU-s"
    )
    print(f"  ratio {peer / ours:,.0f} (goal {PATHS_GOAL:g}); paths give {differs:.0%} of SKUs another 99 % level")


def main() -> None:
    """Print all figures and the machine."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--large", action="store_true", help="100,000 SKUs too")
    sizes = [2_000, 20_000, 100_000] if parser.parse_args().large else [2_000, 20_000]
    compare_quantiles()
    forecast_seconds(MOST_DEMAND[1], WARM_UP_SKUS)
    for most in MOST_DEMAND:
        compare_forecast(most, sizes)
    print(f"  {machine()}, numpy {np.__version__}")


if __name__ == "__main__":
    main()
