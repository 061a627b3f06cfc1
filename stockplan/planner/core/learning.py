"""What runs really took against what was planned: estimates shrunk to what the plant entered.

A run takes y = c + b w + e minutes: c the changeover, w start-up and winding as planned for the spools that it really
made, b the factor of winding time of its line (speed and availability together: a run's total does not tell them
apart). b has the prior 1 with a spread, c the plant's minutes of the pair with a spread in proportion to it, e the
spread s of single runs; the posterior mean of the linear model with normal prior and errors is the estimate, the plain
mean where there are many runs and the entered value where there are few.

References
----------
Bayesian linear model with known error variance: Gelman et al., Bayesian Data Analysis, 3rd ed. 2013, ch. 14 (from
memory); for a single mean it is the credibility formula (n m + k p) / (n + k), k = s^2 / spread^2.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stockplan.planner.core.shortage import Floats

# How far the plant's own figures are believed to be off, one standard deviation: common practice, no source.
WINDING_SPREAD = 0.15
CHANGEOVER_SPREAD = 0.3
# Spread of single runs as a share of their planned time, and as many runs as it weighs: common practice, no source.
RUN_SPREAD = 0.1
SPREAD_WEIGHT = 3.0
# Kilograms wound that weigh as much as the entered scrap share.
SCRAP_WEIGHT_KG = 500.0
LEAST_SPREAD_MIN = 1.0


@dataclass(frozen=True)
class FinishedRun:
    """A finished run of a line.

    Parameters
    ----------
    pair
        Filaments before and after its changeover; None: the line held it already.
    changeover_min, winding_min
        As the plant's figures give them: the changeover, and start-up and winding of the good spools that were made.
    real_min
        From the start of the changeover to the end.
    wound_kg, scrap_kg
        Mass wound, scrap included, and scrap.
    """

    pair: tuple[str, str] | None
    changeover_min: float
    winding_min: float
    real_min: float
    wound_kg: float
    scrap_kg: float


@dataclass(frozen=True)
class Estimate:
    """A figure as entered and as learned, with the standard deviation of what was learned and the runs behind it."""

    entered: float
    learned: float
    spread: float
    runs: int


@dataclass(frozen=True)
class LineLearning:
    """What one line's finished runs say.

    Parameters
    ----------
    winding_factor
        Real over planned winding time; entered 1.
    changeovers
        Minutes by pair of filaments.
    run_spread_min
        Standard deviation of single runs around the estimates.
    """

    winding_factor: Estimate
    scrap_share: Estimate
    changeovers: dict[tuple[str, str], Estimate]
    run_spread_min: float


def learn_line(runs: Sequence[FinishedRun], *, scrap_share: float) -> LineLearning:
    """Estimate winding factor, changeovers and scrap of a line.

    Parameters
    ----------
    scrap_share
        As entered.

    Raises
    ------
    ValueError
        If there is no run.
    """
    if not runs:
        raise ValueError("nothing to learn from: no finished run")
    pairs = sorted({run.pair for run in runs if run.pair is not None})
    entered = {run.pair: run.changeover_min for run in runs if run.pair is not None}
    design, real = _design(runs, pairs), np.array([run.real_min for run in runs])
    prior = np.array([1.0, *(entered[pair] for pair in pairs)])
    prior_sd = np.array([WINDING_SPREAD, *(max(CHANGEOVER_SPREAD * entered[p], LEAST_SPREAD_MIN) for p in pairs)])
    spread = _run_spread(design, real, planned=design @ prior)
    mean, sd = _posterior(design, real, prior=prior, prior_sd=prior_sd, spread=spread)
    count = (design > 0).sum(axis=0)
    rows = zip(prior, mean, sd, count, strict=True)
    estimates = [Estimate(float(p), float(m), float(d), int(n)) for p, m, d, n in rows]
    return LineLearning(estimates[0], _scrap(runs, scrap_share), dict(zip(pairs, estimates[1:], strict=True)), spread)


def _design(runs: Sequence[FinishedRun], pairs: list[tuple[str, str]]) -> Floats:
    """Return the matrix (runs, 1 + pairs): planned winding, and 1 for the pair of the run."""
    design = np.zeros((len(runs), 1 + len(pairs)))
    place = {pair: 1 + i for i, pair in enumerate(pairs)}
    for row, run in zip(design, runs, strict=True):
        row[0] = run.winding_min
        if run.pair is not None:
            row[place[run.pair]] = 1.0
    return design


def _run_spread(design: Floats, real: Floats, *, planned: Floats) -> float:
    """Return the standard deviation of single runs around the plain least squares fit.

    s^2 = (k s0^2 + residual sum of squares) / (k + runs - parameters): `SPREAD_WEIGHT` k runs of a usual spread s0
    stand beside the few that there are (scaled inverse chi-squared prior, from memory).
    """
    fit, _, rank, _ = np.linalg.lstsq(design, real, rcond=None)
    usual = RUN_SPREAD * float(planned.mean())
    squares = SPREAD_WEIGHT * usual**2 + float(((real - design @ fit) ** 2).sum())
    return max(float(np.sqrt(squares / (SPREAD_WEIGHT + len(real) - rank))), LEAST_SPREAD_MIN)


def _posterior(
    design: Floats, real: Floats, *, prior: Floats, prior_sd: Floats, spread: float
) -> tuple[Floats, Floats]:
    """Return posterior means and standard deviations."""
    precision = design.T @ design / spread**2 + np.diag(1 / prior_sd**2)
    covariance = np.linalg.inv(precision)
    mean = covariance @ (design.T @ real / spread**2 + prior / prior_sd**2)
    return mean, np.sqrt(np.diag(covariance))


def _scrap(runs: Sequence[FinishedRun], entered: float) -> Estimate:
    """Return the scrap share, by mass, shrunk to the entered one; spread between runs, by mass, over their number."""
    wound, scrap = np.array([run.wound_kg for run in runs]), np.array([run.scrap_kg for run in runs])
    learned = float((scrap.sum() + SCRAP_WEIGHT_KG * entered) / (wound.sum() + SCRAP_WEIGHT_KG))
    around = (scrap - learned * wound) ** 2
    return Estimate(entered, learned, float(np.sqrt(around.sum()) / (wound.sum() + SCRAP_WEIGHT_KG)), len(runs))
