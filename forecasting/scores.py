"""Scores of forecasts: less is better. All vectorised."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from forecasting.distribution import NegativeBinomial
from forecasting.errors import ParameterError

FloatArray = NDArray[np.float64]


def pinball_loss(y: ArrayLike, quantile: ArrayLike, *, probability: ArrayLike) -> FloatArray:
    """Return p (y - x) where y >= x, else (1 - p)(x - y): the loss whose least mean is at the p quantile.

    References
    ----------
    Koenker, R. & Bassett, G. (1978), Regression quantiles, Econometrica 46(1), 33-50.
    """
    p = np.asarray(probability, dtype=float)
    if np.any(~((p > 0) & (p < 1))):
        raise ParameterError("a probability must be in (0, 1); got {p!s}", p=p.tolist())
    short = np.asarray(y, dtype=float) - np.asarray(quantile, dtype=float)
    return np.asarray(np.maximum(p * short, (p - 1.0) * short))


def crps_negative_binomial(y: ArrayLike, forecast: NegativeBinomial) -> FloatArray:
    """Return the continuous ranked probability score, integral of (F(x) - 1{y <= x})^2.

    Written as E|D - y| - E|D - D'| / 2. With D whole and y whole, E|D - y| = m - y + 2 E[(y - D)+], and Gini's mean
    difference of the negative binomial has a closed form.

    References
    ----------
    Wei, W. & Held, L. (2014), Calibration tests for count data, TEST 23, 787-805.
    """
    observed = np.asarray(y, dtype=float)
    distance = observed - forecast.mean + 2.0 * forecast.expected_shortage(observed)
    return distance - 0.5 * mean_difference(forecast)


def mean_difference(dist: NegativeBinomial) -> FloatArray:
    """Return Gini's mean difference E|D - D'| of independent copies.

    Poisson: 2 m e^{-2m} (I0(2m) + I1(2m)). Negative binomial of size r and success probability p, with
    z = 4 (1 - p) / p^2: 2 r (1 - p) / p^2 F(r + 1, 1/2; 2; -z), F the hypergeometric function.

    Notes
    -----
    F overflows for large r. There the same number is the integral of 1 - (1 + z / (1 + x^2))^-r over x > 0, by pi,
    from the characteristic function; it is smooth then and 80 nodes give 12 digits.
    """
    m, v = np.atleast_1d(dist.mean), np.atleast_1d(dist.variance)
    poisson = 2.0 * m * (special.i0e(2.0 * m) + special.i1e(2.0 * m))
    is_poisson = v <= m * (1.0 + 1e-9)
    size = np.where(is_poisson, 1.0, m * m / np.where(is_poisson, 1.0, v - m))
    success = np.where(is_poisson, 0.5, m / np.where(is_poisson, 1.0, v))
    z = 4.0 * (1.0 - success) / success**2
    is_large = size >= _LARGE_SIZE
    small = np.where(is_large, 1.0, size)
    closed = 0.5 * z * small * special.hyp2f1(small + 1.0, 0.5, 2.0, -np.where(is_large, 1.0, z))
    answer = np.where(is_poisson, poisson, np.where(is_large, _difference_by_quadrature(size, z), closed))
    return answer.reshape(dist.mean.shape)


_LARGE_SIZE = 30.0


def _difference_by_quadrature(size: FloatArray, z: FloatArray) -> FloatArray:
    nodes, weights = np.polynomial.legendre.leggauss(80)
    angle, weight = (nodes + 1.0) * np.pi / 4.0, weights * np.pi / 4.0
    scale = np.sqrt(1.0 + z * size)[..., None]
    x = scale * np.tan(angle)
    integrand = -np.expm1(-size[..., None] * np.log1p(z[..., None] / (1.0 + x * x))) / np.cos(angle) ** 2
    return np.asarray((integrand * weight).sum(axis=-1) * scale[..., 0] / np.pi)


def mean_absolute_scaled_error(actual: ArrayLike, forecast: ArrayLike, *, insample: ArrayLike) -> float:
    """Return the mean absolute error over that of the naive forecast within the sample.

    Raises
    ------
    ParameterError
        If the sample is constant, so that its naive error is zero.

    References
    ----------
    Hyndman, R.J. & Koehler, A.B. (2006), Another look at measures of forecast accuracy, International Journal of
    Forecasting 22(4), 679-688.
    """
    scale = float(np.mean(np.abs(np.diff(np.asarray(insample, dtype=float)))))
    if scale == 0.0:
        raise ParameterError("the sample is constant: its naive error is zero and cannot scale anything")
    return float(np.mean(np.abs(np.asarray(actual, dtype=float) - np.asarray(forecast, dtype=float)))) / scale


def expected_coverage(below: FloatArray, at_most: FloatArray, *, probability: ArrayLike) -> FloatArray:
    """Return the chance that a randomised probability integral transform is at most p: its mean is p if calibrated.

    clip((p - F(y - 1)) / (F(y) - F(y - 1)), 0, 1): demand is discrete, so the plain share of y <= quantile would
    exceed p even for the true distribution.

    Parameters
    ----------
    below, at_most : ndarray
        F(y - 1) and F(y).

    References
    ----------
    Czado, C., Gneiting, T. & Held, L. (2009), Predictive model assessment for count data, Biometrics 65, 1254-1261.
    """
    mass = np.maximum(at_most - below, np.finfo(float).tiny)
    return np.clip((np.asarray(probability, dtype=float) - below) / mass, 0.0, 1.0)
