"""All that is known at an origin: nothing here looks at a later period."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forecasting.classification import demand_classes
from forecasting.credibility import RatePrior, attribute_design, fit_rate_prior
from forecasting.methods.events import DemandEvents, events_of
from forecasting.pooling import Phases, phase_factors
from forecasting.season import month_factors
from forecasting.spread import VarianceLaw, fit_variance_law, shrunk_variance
from forecasting.states import Levels, levels_of

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# The spread and the credibility rate look at the recent past only; a year of ship days, half a year.
SPREAD_PERIODS = 260
RATE_PERIODS = 130


@dataclass(frozen=True)
class Setting:
    """What does not depend on the origin.

    Attributes
    ----------
    units : ndarray, shape (n, T). phases : Phases. group : ndarray of int, shape (n,).
    uplift : ndarray, shape (n, T + H), or None
        Known factors of events, past and coming.
    """

    skus: pd.Index
    units: FloatArray
    phases: Phases
    group: IntArray
    attributes: pd.DataFrame | None
    uplift: FloatArray | None
    longest: int

    @property
    def has_factors(self) -> bool:
        return self.phases.count > 1 or self.uplift is not None


@dataclass(frozen=True)
class Past:
    """The record before an origin, with and without its factors taken out."""

    setting: Setting
    origin: int
    prior_from: Past | None = None
    """An earlier past that lends its regression on attributes: it moves slowly and costs most."""

    @cached_property
    def units(self) -> FloatArray:
        return self.setting.units[:, : self.origin]

    @cached_property
    def sold(self) -> DemandEvents:
        return events_of(self.units)

    @cached_property
    def levels(self) -> Levels:
        return levels_of(self.units)

    @cached_property
    def levels_without_factors(self) -> Levels:
        return levels_of(self.units / self.factors[:, : self.origin]) if self.setting.has_factors else self.levels

    @cached_property
    def demand_class(self) -> NDArray[np.str_]:
        return demand_classes(self.sold)

    @cached_property
    def n_events(self) -> FloatArray:
        return self.sold.count.astype(float)

    @cached_property
    def factors(self) -> FloatArray:
        """Factors of the past and of the ``longest`` periods after the origin, shape (n, origin + longest)."""
        setting, last = self.setting, self.origin + self.setting.longest
        n = setting.units.shape[0]
        phase = np.concatenate([setting.phases.past, setting.phases.ahead])[:last]
        factors = np.ones((n, last))
        if setting.uplift is not None:
            factors = setting.uplift[:, :last].copy()
        if setting.phases.count > 1:
            without_events = self.units / factors[:, : self.origin]
            pooled = phase_factors(
                without_events, phase=phase[: self.origin], n_phases=setting.phases.count, group=setting.group
            )
            factors *= pooled[setting.group][:, phase]
        if setting.phases.month is not None:
            month = setting.phases.month[:last]
            yearly = month_factors(
                self.units / factors[:, : self.origin],
                month=month[: self.origin],
                year=setting.phases.year,
                group=setting.group,
            )
            factors *= yearly[setting.group][:, month]
        return factors

    @cached_property
    def periods_ahead(self) -> FloatArray:
        """G_h: the sum of the factors of the next h periods, shape (n, longest)."""
        return np.cumsum(self.factors[:, self.origin :], axis=1)

    def spread_at(self, rate: FloatArray) -> FloatArray:
        """Return the variance of one period of factor 1 at a rate (..., n): own spread, shrunk to the law there."""
        _, variance, n_events = self._recent_moments
        return shrunk_variance(mean=rate, variance=variance, n_events=n_events, law=self._variance_law)

    @cached_property
    def _variance_law(self) -> VarianceLaw:
        mean, variance, n_events = self._recent_moments
        return fit_variance_law(mean=mean, variance=variance, n_events=n_events)

    @cached_property
    def _recent_moments(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return mean and variance of one period of factor 1, and the number of demands, of the recent past."""
        first = max(0, self.origin - SPREAD_PERIODS)
        units, factor = self.units[:, first:], self.factors[:, first : self.origin]
        known = ~np.isnan(units)
        y, f = np.where(known, units, 0.0), np.where(known, factor, 0.0)
        periods = f.sum(axis=1)
        some = np.maximum(periods, 1e-9)
        mean = y.sum(axis=1) / some
        # Var(y_t) = f_t s2, so the squared deviations from f_t m sum to s2 times the periods, less one for m itself.
        squares = np.sum((y - f * mean[:, None]) ** 2, axis=1)
        variance = squares / np.maximum(periods - 1.0, 1.0)
        return mean, variance, np.count_nonzero(y, axis=1).astype(float)

    @cached_property
    def rate_prior(self) -> RatePrior:
        if self.prior_from is not None:
            return self.prior_from.rate_prior
        units, exposure = self.recent_units_and_exposure
        design = attribute_design(self.setting.attributes, skus=self.setting.skus, units=units)
        return fit_rate_prior(units=units, exposure=exposure, design=design)

    @cached_property
    def recent_units_and_exposure(self) -> tuple[FloatArray, FloatArray]:
        first = max(0, self.origin - RATE_PERIODS)
        units, factor = self.units[:, first:], self.factors[:, first : self.origin]
        known = ~np.isnan(units)
        return np.where(known, units, 0.0).sum(axis=1), np.where(known, factor, 0.0).sum(axis=1)
