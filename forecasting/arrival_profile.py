"""Share of a ship day's demand that has not arrived yet, so many minutes before its cut-off.

Inside a window from cut-off to cut-off a part of the next due day's demand is already in the books; customers who
name a later day order even earlier. The profile is pooled over SKUs: a single sparse SKU cannot show one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from forecasting.errors import ParameterError
from forecasting.messages import message
from forecasting.outlook import Outlook

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class ArrivalProfile:
    """Steps of the share still to arrive.

    Attributes
    ----------
    minutes_before : ndarray, shape (k,)
        Minutes between receipt and cut-off at which units arrived, ascending.
    share_later : ndarray, shape (k,)
        Share of all units that arrived with fewer minutes to go than each of these.
    """

    minutes_before: FloatArray
    share_later: FloatArray

    def share_to_arrive(self, minutes_before_cut_off: ArrayLike) -> FloatArray:
        """Return the share of a due day's demand that is still to come: 0 at the cut-off, near 1 long before it.

        Orders received in this very minute are in the books already.
        """
        asked = np.asarray(minutes_before_cut_off, dtype=float)
        place = np.searchsorted(self.minutes_before, asked, side="left")
        return np.asarray(np.append(self.share_later, 1.0)[place])


def fit_arrival_profile(*, minutes_before_cut_off: ArrayLike, units: ArrayLike) -> ArrivalProfile:
    """Collect the profile from order lines.

    Parameters
    ----------
    minutes_before_cut_off : array_like, shape (k,)
        Minutes from the receipt of each line to the cut-off of its due day, > 0 (exactly at the cut-off is late).
    units : array_like, shape (k,)
        Units of each line, > 0.

    Raises
    ------
    ParameterError
        If there is no line, or one that was received at or after the cut-off of its due day or has no units.
    """
    minutes, weight = np.asarray(minutes_before_cut_off, dtype=float), np.asarray(units, dtype=float)
    if minutes.shape != weight.shape or minutes.ndim != 1 or minutes.size == 0:
        raise ParameterError(
            "need one number of minutes and of units per line; got {minutes!s}, {units!s}",
            minutes=minutes.shape,
            units=weight.shape,
        )
    for name, values in ((message("minutes before cut-off"), minutes), (message("units"), weight)):
        if not np.all(values > 0):
            line = int(np.argmin(values > 0))
            raise ParameterError(
                "{name} must be > 0; got {value} at line {line}", name=name, value=values[line], line=line
            )
    at, where = np.unique(minutes, return_inverse=True)
    per_minute = np.bincount(where, weights=weight)
    return ArrivalProfile(at, (np.cumsum(per_minute) - per_minute) / per_minute.sum())


def demand_to_arrive(
    mean: FloatArray, variance: FloatArray, *, first_mean: FloatArray, share_to_arrive: float
) -> tuple[FloatArray, FloatArray]:
    """Return mean and variance of the cumulated demand that is still to arrive.

    The first period's demand is thinned: each of its units is still to come with the share p. The variance beyond
    Poisson of h periods lies between that of h - 1 (p = 0) and h periods (p = 1); it is taken in proportion to p,
    which is not less than what independent periods would give (p^2).

    Parameters
    ----------
    mean, variance : ndarray, shape (..., n, H)
        Moments of the demand cumulated over 1 .. H periods, the running window being the first.
    first_mean : ndarray, shape (..., n)
        Mean demand of the running window as a whole.
    share_to_arrive : float
        p in [0, 1].
    """
    if not 0.0 <= share_to_arrive <= 1.0:
        raise ParameterError("a share to arrive must be in [0, 1]; got {share}", share=share_to_arrive)
    left = np.maximum(mean - (1.0 - share_to_arrive) * first_mean[..., None], 0.0)
    excess = np.maximum(variance - mean, 0.0)
    shorter = np.concatenate([np.zeros_like(excess[..., :1]), excess[..., :-1]], axis=-1)
    return left, left + share_to_arrive * excess + (1.0 - share_to_arrive) * shorter


def outlook_to_arrive(outlook: Outlook, *, share_to_arrive: float) -> Outlook:
    """Return the same of an outlook on 1 .. H periods; demands that arrive are thinned like their units."""
    mean, variance = demand_to_arrive(
        outlook.mean, outlook.variance, first_mean=outlook.mean[..., 0], share_to_arrive=share_to_arrive
    )
    # Methods whose demand is not lumpy have infinitely many arrivals, before and after.
    first = np.where(np.isfinite(outlook.arrivals[..., :1]), outlook.arrivals[..., :1], 0.0)
    arrivals = np.maximum(outlook.arrivals - (1.0 - share_to_arrive) * first, 0.0)
    return Outlook(mean, variance, arrivals, outlook.level_variation)
