"""Levels and a night's update of kept levels against statsforecast in the same run, on the same matrix.

Run as ``python -m tests.benches.bench_levels``. The peer fits CrostonSBA, and TSB beside it, constant 0.1 each;
its models are called series by series, CrostonSBA by its batch interface as well. Answers are compared where both have
them: at the constant 0.1. Goals: 4 times the peer for SBA and TSB with one constant, 8 times CrostonSBA alone for ten
constants with choice, 450 times for the night.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
import pandas as pd
from statsforecast import StatsForecast
from statsforecast.models import TSB, CrostonSBA

from forecasting.levels import CONSTANTS
from forecasting.methods.croston import SbaLevels
from forecasting.methods.tsb import TsbLevels
from tests.benches.machine import machine

SERIES, PERIODS, REPEATS = 2_000, 730, 5
BOTH_GOAL, LEVELS_GOAL, NIGHT_GOAL = 4.0, 8.0, 450.0
CONSTANT = 0.1
# Mean demand per period of the quickest seller; the slowest sells once in 100 periods.
MOST_DEMAND = (0.3, 3.0, 100.0)


def demand_matrix(most: float, *, n_skus: int = SERIES, seed: int = 1) -> np.ndarray:
    """Return invented sporadic demand with rates spread evenly in logarithms, sizes overdispersed."""
    rng = np.random.default_rng(seed)
    rate = np.exp(rng.uniform(np.log(0.01), np.log(most), size=(n_skus, 1)))
    return rng.poisson(rng.gamma(0.8, rate / 0.8, size=(n_skus, PERIODS))).astype(float)


def fitted(units: np.ndarray) -> SbaLevels:
    """Return the levels of ten constants after the record."""
    levels = SbaLevels.unsold(len(units))
    levels.advance(units)
    return levels


def both_with_one_constant(units: np.ndarray) -> np.ndarray:
    """Return the levels of SBA and of TSB, one row each."""
    one = (CONSTANT,)
    sba = SbaLevels.unsold(len(units), constants=one)
    tsb = TsbLevels.unsold(len(units), size_constants=one, probability_constants=one)
    for levels in (sba, tsb):
        levels.advance(units)
    return np.stack([sba.now()[:, 0], tsb.now()[:, 0]])


def peer_by_series(units: np.ndarray, *, model: CrostonSBA | TSB) -> np.ndarray:
    """Return the peer's levels, its model called for one series after the other."""
    return np.array([model.forecast(y=row, h=1)["mean"][0] for row in units])


def both_by_series(units: np.ndarray) -> np.ndarray:
    """Return the peer's levels of both methods, one row each."""
    models = (CrostonSBA(), TSB(alpha_d=CONSTANT, alpha_p=CONSTANT))
    return np.stack([peer_by_series(units, model=model) for model in models])


def peer_in_batch(frame: pd.DataFrame) -> pd.DataFrame:
    """Return the peer's levels by its interface for many series."""
    return StatsForecast(models=[CrostonSBA()], freq=1, n_jobs=1).forecast(df=frame, h=1)


def long_form(units: np.ndarray) -> pd.DataFrame:
    """Return the table that the peer's batch interface reads."""
    n, periods = units.shape
    return pd.DataFrame(
        {"unique_id": np.repeat(np.arange(n), periods), "ds": np.tile(np.arange(periods), n), "y": units.ravel()}
    )


def once(work: Callable[[], object]) -> float:
    """Return the CPU seconds of one run."""
    start = time.process_time()
    work()
    return time.process_time() - start


def cpu_seconds(work: Callable[[], object]) -> float:
    """Return the least of several runs after one to warm up (both sides compile then)."""
    work()
    return min(once(work) for _ in range(REPEATS))


def compare(units: np.ndarray) -> tuple[float, float, float]:
    """Print one matrix' speeds and return the ratios to the peer by series: both methods, ten constants, the night."""
    frame, levels, night = long_form(units), fitted(units[:, :-1]), units[:, -1:]
    peer = cpu_seconds(lambda: peer_by_series(units, model=CrostonSBA()))
    batch = cpu_seconds(lambda: peer_in_batch(frame))
    peer_both = cpu_seconds(lambda: both_by_series(units))
    both = cpu_seconds(lambda: both_with_one_constant(units))
    fit, update = (
        cpu_seconds(lambda: fitted(units).chosen()),
        cpu_seconds(lambda: (levels.advance(night), levels.chosen())),
    )
    print(f"{len(units)} x {PERIODS}, {np.mean(units > 0):.0%} of periods with demand; microseconds of CPU per series")
    each = 1e6 / len(units)
    print(f"  statsforecast CrostonSBA, one constant {peer * each:8.2f}, in batch {batch * each:.2f}")
    print(f"  statsforecast CrostonSBA and TSB         {peer_both * each:8.2f}")
    print(f"  {'SBA and TSB, one constant':37} {both * each:9.3f}: {peer_both / both:.1f} times")
    for name, ours in (("SBA, ten constants, choice", fit), ("  one night on kept levels", update)):
        print(f"  {name:37} {ours * each:9.3f}: {peer / ours:.1f} times, in batch {batch / ours:.1f} times")
    return peer_both / both, peer / fit, peer / update


def check_answers(units: np.ndarray) -> None:
    """Stop unless the levels equal the peer's at its constant, and the nights the whole record, bit for bit."""
    whole, kept = fitted(units), SbaLevels.unsold(len(units))
    both, theirs = both_with_one_constant(units), both_by_series(units)
    ours = np.stack([whole.now()[:, CONSTANTS.index(CONSTANT)], *both])
    difference = np.max(np.abs(ours - theirs[[0, 0, 1]]) / np.maximum(theirs[[0, 0, 1]], 1e-300))
    print(f"  largest relative difference of the answers {difference:.1e}")
    if difference > 1e-9:
        raise SystemExit("the answers differ by more than 1e-9")
    for day in units.T:
        kept.advance(day[:, None])
    if not (np.array_equal(kept.rate, whole.rate) and np.array_equal(kept.chosen(), whole.chosen())):
        raise SystemExit("nights and whole record differ")


def main() -> None:
    """Print all matrices, the machine and the goals."""
    ratios = []
    for most in MOST_DEMAND:
        units = demand_matrix(most)
        ratios.append(compare(units))
        check_answers(units[:400])
    both, levels, night = np.array(ratios).T
    print(f"  SBA and TSB {', '.join(f'{r:.1f}' for r in both)} (goal {BOTH_GOAL:g})")
    print(f"  levels {', '.join(f'{r:.1f}' for r in levels)} (goal {LEVELS_GOAL:g}); ", end="")
    print(f"night {', '.join(f'{r:.0f}' for r in night)} (goal {NIGHT_GOAL:g})")
    print(f"  {machine()}, numpy {np.__version__}")


if __name__ == "__main__":
    main()
