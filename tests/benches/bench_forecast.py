"""Loss and coverage of the forecasts against benchmarks on open demand tables.

Scaled pinball loss: sum of the pinball losses at .5 .8 .9 .95 .98 .99, averaged over these, over the sum of the demand
that came, per horizon 1, 3, 5, 10 periods cumulated, averaged over the horizons. Expected coverage: mean of
clip((p - F(y - 1)) / (F(y) - F(y - 1)), 0, 1).

Origins are apart: what is tuned (constants, priors, the list of methods) is tuned on origins over the first part of the
second half of each table (``--tuning``), whose windows end before the first origin that is reported. A table of fewer
than 100 periods has one such origin. The slow peers are given a fixed sample of 100 series at two of the origins.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from forecasting import DemandForecast, forecast
from tests.benches.forecast_peers import peer_quantiles, sample_rows
from tests.benches.forecast_sets import DemandSet, demand_sets
from tests.benches.machine import machine
from tests.benches.plain_forecasts import Array, plain_quantiles

PROBABILITY = np.array([0.5, 0.8, 0.9, 0.95, 0.98, 0.99])
HORIZONS = np.array([1, 3, 5, 10])
JUDGED = {0.9: 2, 0.95: 3, 0.99: 5}
MOST_ORIGINS, PEER_ORIGINS, DRAWS = 8, 2, 400
WORST_RATIO, GOAL_MEAN, GOAL_COVERAGE = 1.01, 0.95, 0.01
OURS = "ours"


@dataclass(frozen=True)
class Outcome:
    """What came out on one set: loss by method, coverage (q,) with its standard error, CPU-seconds of our forecasts.

    `of_sample` is the loss on the fixed sample of series and origins that the slow peers are given.
    """

    loss: dict[str, float]
    of_sample: dict[str, float]
    coverage: Array
    standard_error: Array
    seconds: float

    @property
    def ratio(self) -> float:
        return ratio_to_best(self.loss)[0]


@dataclass
class Tally:
    """Pinball losses by method and horizon, and the demand that came."""

    lost: dict[str, Array] = field(default_factory=dict)
    came: Array = field(default_factory=lambda: np.zeros(HORIZONS.size))

    def add(self, answers: dict[str, Array], actual: Array) -> None:
        """Take in the quantiles (q, n, h) of every method and what came (n, h)."""
        for name, quantile in answers.items():
            self.lost[name] = self.lost.get(name, 0.0) + pinball_sums(actual, quantile)
        self.came = self.came + np.nansum(actual, axis=0)

    def scaled(self) -> dict[str, float]:
        """Return the scaled loss by method."""
        return {name: float(np.mean(total / self.came)) for name, total in self.lost.items()}


def ratio_to_best(loss: dict[str, float]) -> tuple[float, str]:
    """Return our loss over that of the best other method, and its name."""
    best = min((name for name in loss if name != OURS), key=loss.__getitem__)
    return loss[OURS] / loss[best], best


def origins_of(demand: DemandSet, *, is_tuning: bool) -> list[int]:
    """Return the numbers of periods known at the origins that are reported, or at those for tuning."""
    periods, longest = len(demand.history), int(HORIZONS[-1])
    first = int(periods * (0.7 if periods < 100 else 0.75))
    if not is_tuning:
        return sorted(set(np.linspace(first, periods - longest, MOST_ORIGINS).astype(int).tolist()))
    half = periods // 2
    return sorted(set(np.linspace(half, max(first - longest, half), MOST_ORIGINS).astype(int).tolist()))


def measure(demand: DemandSet, *, is_tuning: bool, with_peers: bool) -> Outcome:
    """Forecast from every origin with every method and score what came."""
    everything, sample, covered, seconds = Tally(), Tally(), [], 0.0
    origins = origins_of(demand, is_tuning=is_tuning)
    given_to_peers = origins[:: max(1, len(origins) // PEER_ORIGINS)][:PEER_ORIGINS] if with_peers else []
    for origin in origins:
        known, actual = demand.history.iloc[:origin], actual_after(demand, origin)
        started = time.process_time()
        found = forecast(known, horizons=HORIZONS.tolist(), season_length=demand.season_length)
        answers = {OURS: found.ppf(PROBABILITY[:, None, None])}
        seconds += time.process_time() - started
        asked = {"horizons": HORIZONS, "probability": PROBABILITY, "season": demand.season_length}
        units = known.to_numpy().T
        answers |= plain_quantiles(units, **asked)
        everything.add(answers, actual)
        covered.append(expected_coverage(found, actual))
        if origin in given_to_peers:
            rows = sample_rows(demand.history.to_numpy().T)
            peers = peer_quantiles(units[rows], **asked)
            sample.add({OURS: answers[OURS][:, rows]} | peers, actual[rows])
    coverage = np.stack(covered)
    mean = np.nanmean(coverage, axis=(0, 1, 2))
    return Outcome(everything.scaled(), sample.scaled(), mean, block_error(coverage), seconds)


def actual_after(demand: DemandSet, origin: int) -> Array:
    """Return cumulated demand (n, h); NaN for a SKU without any record before the origin."""
    units = demand.history.to_numpy().T
    actual = np.cumsum(units[:, origin : origin + HORIZONS[-1]], axis=1)[:, HORIZONS - 1]
    return np.where(np.isnan(units[:, :origin]).all(axis=1)[:, None], np.nan, actual)


def pinball_sums(actual: Array, quantile: Array) -> Array:
    """Return the sum over SKUs of the pinball loss, averaged over the probabilities, by horizon."""
    short = actual - quantile
    p = PROBABILITY[:, None, None]
    return np.nansum(np.maximum(p * short, (p - 1.0) * short).mean(axis=0), axis=0)


def expected_coverage(found: DemandForecast, actual: Array) -> Array:
    """Return (n, h, q): the chance that the randomised transform of what came is at most each probability."""
    y = np.nan_to_num(actual)
    below, at_most = found.cdf(y - 1.0)[..., None], found.cdf(y)[..., None]
    share = np.clip((PROBABILITY - below) / np.maximum(at_most - below, 1e-300), 0.0, 1.0)
    return np.where(np.isnan(actual)[..., None], np.nan, share)


def block_error(coverage: Array) -> Array:
    """Return the standard error of the mean by a bootstrap over origins and over SKUs, (q,)."""
    rng = np.random.default_rng(1)
    is_known = ~np.isnan(coverage[..., 0])
    known = is_known.sum(axis=2).astype(float)
    filled = np.where(is_known[..., None], coverage, 0.0).sum(axis=2)
    n_origins, n_skus = known.shape
    means = []
    for _ in range(DRAWS):
        o = np.bincount(rng.integers(n_origins, size=n_origins), minlength=n_origins).astype(float)
        s = np.bincount(rng.integers(n_skus, size=n_skus), minlength=n_skus).astype(float)
        means.append(np.einsum("o,s,osq->q", o, s, filled) / (o @ known @ s))
    return np.std(means, axis=0)


def rows_of(demand: DemandSet, outcome: Outcome) -> Iterator[str]:
    """Yield the lines of one set."""
    covered = "  ".join(
        f"{p:g}: {outcome.coverage[q]:.3f} ± {2 * outcome.standard_error[q]:.3f}"
        + ("" if abs(outcome.coverage[q] - p) <= GOAL_COVERAGE + 2 * outcome.standard_error[q] else " (outside)")
        for p, q in JUDGED.items()
    )
    ratio, best = ratio_to_best(outcome.loss)
    yield f"{demand.name:30s} ratio {ratio:.3f} to {best:18s} coverage {covered}"
    yield f"{'':30s} {in_order(outcome.loss)}; {outcome.seconds:.1f} CPU-s"
    if outcome.of_sample:
        ratio, best = ratio_to_best(outcome.of_sample)
        yield f"{'':30s} on the sample of the slow peers: ratio {ratio:.3f} to {best}; {in_order(outcome.of_sample)}"


def in_order(loss: dict[str, float]) -> str:
    """Return the losses as text, the least first."""
    return ", ".join(f"{name} {value:.4f}" for name, value in sorted(loss.items(), key=lambda item: item[1]))


def main() -> None:
    """Print the table, the goals and the machine."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tuning", action="store_true", help="the origins that tuning may look at")
    parser.add_argument("--only", default="", help="sets whose name contains this")
    parser.add_argument("--without-peers", action="store_true", help="leave out the slow peers")
    options = parser.parse_args()
    ratios, worst = [], 0.0
    for demand in demand_sets():
        if options.only not in demand.name:
            continue
        outcome = measure(demand, is_tuning=options.tuning, with_peers=not options.without_peers)
        print("\n".join(rows_of(demand, outcome)), flush=True)
        worst = max(worst, outcome.ratio)
        ratios += [outcome.ratio] * demand.is_counted
    mean = float(np.exp(np.mean(np.log(ratios)))) if ratios else float("nan")
    print(f"geometric mean of the ratios {mean:.3f} (goal {GOAL_MEAN:g}), greatest {worst:.3f} (goal {WORST_RATIO:g})")
    print(f"origins for {'tuning' if options.tuning else 'the report'}; {machine()}")


if __name__ == "__main__":
    main()
