"""Level of new and sparse SKUs: a regression on attributes as prior, moved by the SKU's own sales.

Units over an exposure of N periods are Poisson with a rate that varies between SKUs as a gamma variable around the
regression mean mu with size r. Given y own units the rate has mean (r + y) / (r / mu + N).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
import scipy.linalg
from numpy.typing import NDArray
from statsmodels.genmod import families
from statsmodels.genmod.generalized_linear_model import GLM

FloatArray = NDArray[np.float64]

# Demands that the size of the kin may count for, at least and at most; those up to which a SKU moves it; repeated
# demands, over all SKUs, before the variance of sizes is known. Rules of ours.
PRIOR_DEMANDS, MOST_DEMANDS, FEWEST_REPEATED = (0.2, 20.0), 10.0, 20.0
FEWEST_SKUS_PER_LEVEL = 3
FEWEST_SKUS_PER_COEFFICIENT = 3
# Between-SKU variance below this share of mu^2 is not told apart from none.
_LEAST_DISPERSION, _MOST_DISPERSION = 0.01, 10.0


@dataclass(frozen=True)
class RatePrior:
    """Gamma prior of the rate of each SKU: mean (n,) and the size r shared by all; ``source`` says what gave it."""

    mean: FloatArray
    size: float
    source: str

    def posterior_mean(self, *, units: FloatArray, exposure: FloatArray) -> FloatArray:
        """Return (r + y) / (r / mu + N), the credibility estimate; the prior mean where nothing is known."""
        has_prior = self.mean > 0
        rate = (self.size + units) / (self.size / np.where(has_prior, self.mean, 1.0) + exposure)
        return np.where(has_prior, rate, 0.0)

    def posterior_variation(self, *, units: FloatArray) -> FloatArray:
        """Return 1 / (r + y), the squared coefficient of variation of the rate given its own sales."""
        return 1.0 / (self.size + units)


@dataclass(frozen=True)
class BorrowedRate:
    """Units and demands per period (n,), and the squared coefficient of variation of both given its own sales."""

    mean: FloatArray
    demands: FloatArray
    variation: FloatArray


def borrowed_rate(*, demands: FloatArray, exposure: FloatArray, prior: RatePrior, size: FloatArray) -> BorrowedRate:
    """Return demands per period by credibility, times the mean size of a demand.

    Demands arrive as Poisson counts; sizes do not: to count units would take a SKU that sells in tens for a safe one.

    Parameters
    ----------
    demands, exposure : ndarray, shape (n,)
        Demands and the periods (or their factors) they came in; old ones may count less, in both.
    prior : RatePrior
        Of demands per period; its mean is scaled so that all SKUs together have as many demands as there were.
    size : ndarray, shape (n,)
        Mean units of a demand.
    """
    expected = float(prior.mean @ exposure)
    scale = float(demands.sum()) / expected if expected > 0 else 1.0
    scaled = RatePrior(prior.mean * scale, prior.size, prior.source)
    rate = scaled.posterior_mean(units=demands, exposure=exposure)
    return BorrowedRate(rate * size, rate, scaled.posterior_variation(units=demands))


def shrunk_size(*, mean: FloatArray, variance: FloatArray, demands: FloatArray, design: FloatArray) -> FloatArray:
    """Return the mean units of a demand, drawn to that of its kin by credibility.

    The size of the kin is a regression of the logarithm of the mean size on the attributes, scaled so that it is right
    on the whole. A SKU counts in it by its demands, but at most ``MOST_DEMANDS`` of them: a few best sellers are no
    kin of a SKU that hardly sells. Without any demand at all the size is 1.

    Parameters
    ----------
    mean, variance : ndarray, shape (n,)
        Of the sizes of the SKU's own demands; 0 without any.
    demands : ndarray, shape (n,)
        Periods with demand.
    design : ndarray, shape (n, c)
        Regressors without the constant.
    """
    has_sold = demands > 0
    if not has_sold.any():
        return np.ones(mean.size)
    own, weight = mean[has_sold], np.minimum(demands[has_sold], MOST_DEMANDS)
    x = np.column_stack([np.ones(mean.size), design[:, _carried_columns(design, has_sold)]])
    root = np.sqrt(weight)[:, None]
    coefficients = np.linalg.lstsq(root * x[has_sold], root[:, 0] * np.log(own))[0]
    kin = np.exp(x @ coefficients)
    kin *= float(weight @ own) / float(weight @ kin[has_sold])
    prior = prior_demands(own / kin[has_sold], variance[has_sold] / kin[has_sold] ** 2, demands[has_sold])
    return np.asarray((demands * mean + prior * kin) / (demands + prior))


def prior_demands(mean: FloatArray, variance: FloatArray, demands: FloatArray) -> float:
    """Return how many demands the kin counts for: the variance of sizes within a SKU over that between SKUs.

    With n demands of mean m and variance v (mean squared deviation) of each of k SKUs, N = sum n, M the mean of all:

        within W = sum n v / (N - k),   between B = (sum n (m - M)^2 - (k - 1) W) / (N - sum n^2 / N).

    Notes
    -----
    With too few repeated demands to know W, or where SKUs do not differ beyond it, the answer is the upper limit.

    References
    ----------
    Buehlmann, H. & Gisler, A. (2005), A Course in Credibility Theory, Springer, ch. 4: the Buehlmann-Straub model
    (from memory).
    """
    total, skus = float(demands.sum()), demands.size
    if total - skus < FEWEST_REPEATED:
        return PRIOR_DEMANDS[1]
    within = float(demands @ variance) / (total - skus)
    departed = float(demands @ (mean - float(demands @ mean) / total) ** 2) - (skus - 1) * within
    between = departed / max(total - float(demands @ demands) / total, 1e-9)
    return float(np.clip(within / between, *PRIOR_DEMANDS)) if between > 0 else PRIOR_DEMANDS[1]


def _carried_columns(design: FloatArray, has_record: NDArray[np.bool_]) -> NDArray[np.intp]:
    """Return the independent columns, none where there are too few SKUs for them."""
    usable = _independent_columns(design[has_record])
    too_few = has_record.sum() < FEWEST_SKUS_PER_COEFFICIENT * (usable.size + 1)
    return usable[:0] if too_few else usable


def fit_rate_prior(*, units: FloatArray, exposure: FloatArray, design: FloatArray) -> RatePrior:
    """Fit mean rates by a negative binomial regression with log link and exposure as offset.

    Parameters
    ----------
    units, exposure : ndarray, shape (n,)
        Units sold and periods (or their factors) they were sold in; exposure 0 for a SKU without history.
    design : ndarray, shape (n, c)
        Regressors without the constant.

    Notes
    -----
    The size r comes by moments from a Poisson fit, then the negative binomial is fitted with it. With too few SKUs
    for the regressors, or no sales at all, the prior mean is the mean rate of all SKUs, and ``source`` says so.

    References
    ----------
    Buehlmann, H. & Gisler, A. (2005), A Course in Credibility Theory, Springer, ch. 2: Poisson-gamma (from memory).
    """
    has_record = exposure > 0
    usable = _carried_columns(design, has_record)
    if usable.size == 0 or units.sum() <= 0:
        overall = units.sum() / exposure.sum() if exposure.sum() > 0 else 0.0
        mean = np.full(units.size, overall)
        return RatePrior(mean, 1.0 / _dispersion(units, mean * exposure), "mean rate of all SKUs")
    x = np.column_stack([np.ones(units.size), design[:, usable]])
    y, offset = units[has_record], np.log(exposure[has_record])
    poisson = GLM(y, x[has_record], family=families.Poisson(), offset=offset).fit(wls_method="qr")
    dispersion = _dispersion(y, np.asarray(poisson.fittedvalues))
    family = families.NegativeBinomial(alpha=dispersion)
    fitted = GLM(y, x[has_record], family=family, offset=offset).fit(start_params=poisson.params, wls_method="qr")
    return RatePrior(np.exp(x @ np.asarray(fitted.params)), 1.0 / dispersion, "regression on attributes")


def _dispersion(units: FloatArray, fitted: FloatArray) -> float:
    """Return a with E[(y - m)^2] = m + a m^2, by moments over SKUs."""
    excess = np.sum((units - fitted) ** 2 - fitted)
    scale = np.sum(fitted**2)
    return float(np.clip(excess / scale if scale > 0 else 1.0, _LEAST_DISPERSION, _MOST_DISPERSION))


def _independent_columns(design: FloatArray) -> NDArray[np.intp]:
    """Return the columns that add rank to the constant and the columns before them."""
    if design.shape[0] == 0:
        return np.zeros(0, dtype=np.intp)
    triangle = scipy.linalg.qr(np.column_stack([np.ones(design.shape[0]), design]), mode="r")[0]
    own_part = np.zeros(design.shape[1] + 1)
    own_part[: triangle.shape[0]] = np.abs(np.diagonal(triangle))
    return np.flatnonzero(own_part[1:] > 1e-8 * own_part[0])


def attribute_design(attributes: pd.DataFrame | None, *, skus: pd.Index, units: FloatArray) -> FloatArray:
    """Return one indicator per attribute value held by enough SKUs that have sold; the rest are the base."""
    if attributes is None:
        return np.zeros((len(skus), 0))
    table = attributes.loc[skus]
    columns = []
    for name in table.columns:
        values = pd.Series(table[name].astype(str).to_numpy())
        sold = values[units > 0].value_counts()
        # Ordered by name so that the answer does not depend on the order of the SKUs.
        columns += [values == value for value in sorted(sold.index[sold >= FEWEST_SKUS_PER_LEVEL])[1:]]
    return np.column_stack(columns).astype(float) if columns else np.zeros((len(skus), 0))
