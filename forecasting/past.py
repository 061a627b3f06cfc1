"""All that is known at an origin: nothing here looks at a later period."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forecasting.classification import demand_classes
from forecasting.compound import CompoundRate, OrderSizes, compound_rate, order_prior, order_sizes
from forecasting.credibility import (
    BorrowedRate,
    RatePrior,
    attribute_design,
    borrowed_rate,
    fit_rate_prior,
    shrunk_size,
)
from forecasting.errors import ParameterError
from forecasting.methods.ets import SMOOTHING, EtsStates, ets_states
from forecasting.methods.events import DemandEvents, events_of
from forecasting.period_factors import period_factors
from forecasting.pooling import Phases
from forecasting.spread import VarianceLaw, fit_variance_law, spread_from_law
from forecasting.states import Levels, levels_of

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

# Spread and smoothed levels look at the recent past only; a year of ship days.
RECENT_PERIODS = 260
# Share of its weight that a period loses with every further one, for the rates that borrow from kin.
DISCOUNTS = (0.0, 0.02, 0.05)
# Smoothing constant of the plain methods that all others have to beat.
PLAIN_CONSTANT = 0.1


@dataclass(frozen=True)
class Setting:
    """What does not depend on the origin.

    Attributes
    ----------
    units : ndarray, shape (n, T). phases : Phases. group : ndarray of int, shape (n,).
    uplift : ndarray, shape (n, T + H), or None
        Known factors: events, and the share of a past period in which the SKU could be sold.
    orders : ndarray, shape (n, T), or None
        How many orders the demand of each period came from.
    """

    skus: pd.Index
    units: FloatArray
    phases: Phases
    group: IntArray
    attributes: pd.DataFrame | None
    uplift: FloatArray | None
    longest: int
    orders: FloatArray | None = None


@dataclass(frozen=True)
class Past:
    """The record before an origin, and what it teaches."""

    setting: Setting
    origin: int
    prior_from: Past | None = None
    """An earlier past that lends its regression on attributes: it moves slowly and costs most."""
    walked: tuple[int, Levels] | None = None
    """An earlier origin and its levels, which go on from there."""

    @cached_property
    def units(self) -> FloatArray:
        return self.setting.units[:, : self.origin]

    @cached_property
    def sold(self) -> DemandEvents:
        return events_of(self.units)

    @cached_property
    def levels(self) -> Levels:
        """The levels of the plain methods, each (n, 1)."""
        if self.walked is None:
            return levels_of(self.units, constants=(PLAIN_CONSTANT,))
        origin, levels = self.walked
        return levels.after(self.units[:, origin:])

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
        uplift = None if setting.uplift is None else setting.uplift[:, :last]
        phases = setting.phases.until(self.origin, longest=setting.longest)
        return period_factors(self.units, phases=phases, group=setting.group, uplift=uplift)

    @cached_property
    def periods_ahead(self) -> FloatArray:
        """G_h: the sum of the factors of the next h periods, shape (n, longest)."""
        return np.cumsum(self.factors[:, self.origin :], axis=1)

    def spread_at(self, rate: FloatArray, *, squared_error: FloatArray | None = None) -> FloatArray:
        """Return the variance of one period of factor 1 at a rate (n,): the law there, times what the SKU shows.

        Parameters
        ----------
        squared_error : ndarray, shape (n,), optional
            Of one period ahead, instead of the variance around the mean; NaN where unknown.
        """
        mean, variance, n_events = self._recent_moments
        shown = variance if squared_error is None else np.where(np.isnan(squared_error), variance, squared_error)
        return spread_from_law(rate=rate, mean=mean, variance=shown, n_events=n_events, law=self._variance_law)

    @cached_property
    def _variance_law(self) -> VarianceLaw:
        mean, variance, n_events = self._recent_moments
        return fit_variance_law(mean=mean, variance=variance, n_events=n_events)

    @cached_property
    def _recent_moments(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return mean and variance of one period of factor 1, and the number of demands, of the recent past."""
        from forecasting.compiled.recent import factored_moments  # noqa: PLC0415 - numba is loaded when first needed

        return factored_moments(*self._recent)

    @cached_property
    def _recent(self) -> tuple[FloatArray, FloatArray]:
        first = max(0, self.origin - RECENT_PERIODS)
        return self.units[:, first:], self.factors[:, first : self.origin]

    @cached_property
    def smoothed(self) -> EtsStates:
        """The states of exponential smoothing over the recent past, for all ``SMOOTHING`` constants."""
        units, factors = self._recent
        return ets_states(units, factors=factors, constants=SMOOTHING)

    def borrowed_rate(self, discount: float) -> BorrowedRate:
        """Return the rate of each SKU, drawn to that of its kin; a period loses ``discount`` of its weight a period."""
        demands, exposure = (sums[:, DISCOUNTS.index(discount)] for sums in self._discounted)
        return borrowed_rate(demands=demands, exposure=exposure, prior=self.rate_prior, size=self._mean_size)

    @cached_property
    def _discounted(self) -> tuple[FloatArray, FloatArray]:
        """Demands of each SKU and the factors of the periods they came in, each (n, discounts)."""
        from forecasting.compiled.recent import discounted_sums  # noqa: PLC0415 - numba is loaded when first needed

        return discounted_sums(self.units, self.factors, tuple(1.0 - discount for discount in DISCOUNTS))

    @cached_property
    def _mean_size(self) -> FloatArray:
        sold = self.sold
        return shrunk_size(mean=sold.mean_size, variance=sold.size_variance, demands=self.n_events, design=self._design)

    @cached_property
    def _design(self) -> FloatArray:
        return attribute_design(self.setting.attributes, skus=self.setting.skus, units=self.n_events)

    def compound_rate(self, discount: float) -> CompoundRate:
        """Return the rate of orders of each SKU times their sizes; only where orders are counted."""
        _, exposure = self._discounted
        return compound_rate(
            self._orders,
            exposure[:, DISCOUNTS.index(discount)],
            keep=1.0 - discount,
            prior=self.order_prior,
            sizes=self._order_sizes,
        )

    @cached_property
    def _orders(self) -> FloatArray:
        if self.setting.orders is None:
            raise ParameterError("orders are not counted in this table")
        return self.setting.orders[:, : self.origin]

    @cached_property
    def _order_sizes(self) -> OrderSizes:
        return order_sizes(self.units, self._orders, design=self._design)

    @cached_property
    def order_prior(self) -> RatePrior:
        """Orders per period of each SKU as its kin would let expect."""
        if self.prior_from is not None:
            return self.prior_from.order_prior
        return order_prior(self._orders, self._discounted[1][:, DISCOUNTS.index(0.0)], design=self._design)

    @cached_property
    def rate_prior(self) -> RatePrior:
        """Demands per period of each SKU as its kin would let expect."""
        if self.prior_from is not None:
            return self.prior_from.rate_prior
        _, exposure = self._discounted
        return fit_rate_prior(units=self.n_events, exposure=exposure[:, DISCOUNTS.index(0.0)], design=self._design)
