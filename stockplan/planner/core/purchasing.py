"""What to buy, how much and by when: the needs of the list's runs and of the forecast beyond them.

Letters: N(t) need of an item cumulated by day t, mean m(t) and variance v(t); z the normal quantile of the share of
purchases that shall come in time. The store lasts until the first day on which m(t) + z sqrt(v(t)) is above what is
there. A purchase made now is used until the end of the days looked at, in whole packs, at least the supplier's minimum.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import numpy as np
from scipy.special import ndtri

from stockplan.planner.core.floor import TimedRun
from stockplan.planner.core.materials import needs_of
from stockplan.planner.core.plant import Plant
from stockplan.planner.core.shortage import Floats, Ints


@dataclass(frozen=True)
class PurchaseTerms:
    """How an item is bought; lead time in calendar days.

    Parameters
    ----------
    is_counted
        It comes in whole pieces; else any quantity, where no pack size is stated.
    """

    name: str
    unit: str
    on_hand: float
    lead_time_days: int
    is_counted: bool
    pack_size: float | None
    supplier_minimum: float

    def rounded(self, quantity: float) -> float:
        """Return the least quantity that can be bought and is not below one."""
        wanted = max(quantity, self.supplier_minimum)
        step = self.pack_size or (1.0 if self.is_counted else None)
        return wanted if step is None else math.ceil(wanted / step - 1e-9) * step


@dataclass(frozen=True)
class Purchase:
    """One item to buy.

    Parameters
    ----------
    buy_by
        The last day on which it can be bought and still be in the store when it is needed; today if that has passed.
    late_days
        Calendar days by which it will come too late; 0: in time.
    expected_need
        Mean need until the end of the days looked at.
    """

    item: str
    name: str
    unit: str
    quantity: float
    packs: int | None
    on_hand: float
    expected_need: float
    runs_out_on: date
    buy_by: date
    late_days: int

    @classmethod
    def of_json(cls, values: Mapping[str, Any]) -> Purchase:
        """Read what was stored of one, its days as ISO dates."""
        days = {name: date.fromisoformat(values[name]) for name in ("runs_out_on", "buy_by")}
        return cls(**{**values, **days})


@dataclass(frozen=True)
class Needs:
    """Needs by item and day, cumulated: (T,) mean and variance of each item on the axis `days`."""

    days: tuple[date, ...]
    mean: Mapping[str, Floats]
    variance: Mapping[str, Floats]


def purchases(
    needs: Needs, terms: Mapping[str, PurchaseTerms], *, today: date, in_time_share: float
) -> tuple[Purchase, ...]:
    """Return what has to be bought within the days looked at, the most urgent first.

    Items without terms are not kept in the books; they are left out.
    """
    z = float(ndtri(in_time_share))
    found = [
        purchase
        for item, term in terms.items()
        if item in needs.mean and (purchase := _purchase(item, term, needs, z=z, today=today)) is not None
    ]
    return tuple(sorted(found, key=lambda p: (p.buy_by, p.runs_out_on, p.item)))


def _purchase(item: str, term: PurchaseTerms, needs: Needs, *, z: float, today: date) -> Purchase | None:
    mean = needs.mean[item]
    high = mean + z * np.sqrt(needs.variance[item])
    short = np.flatnonzero(high > term.on_hand + 1e-9)
    if not len(short):
        return None
    out_on = needs.days[int(short[0])]
    last = out_on - timedelta(days=term.lead_time_days)
    quantity = term.rounded(float(high.max()) - term.on_hand)
    return Purchase(
        item=item,
        name=term.name,
        unit=term.unit,
        quantity=quantity,
        packs=None if term.pack_size is None else round(quantity / term.pack_size),
        on_hand=term.on_hand,
        expected_need=float(mean[-1]),
        runs_out_on=out_on,
        buy_by=max(last, today),
        late_days=max((today - last).days, 0),
    )


def needs_ahead(plant: Plant, runs: Sequence[TimedRun], *, all_supply: Ints, lead_days: Mapping[str, float]) -> Needs:
    """Return the needs of the list's runs on the days on which they start, and of the demand that they do not cover.

    Parameters
    ----------
    all_supply : (S,) spools of any day, the list's runs included.
    lead_days
        By filament: ship days from the start of a run to the shelf. What the shelf will lack is made so much earlier.

    Notes
    -----
    Purge and start-up of runs beyond the list are not counted: which changeovers they bring is not known.
    """
    days = plant.facts.days
    mean: dict[str, Floats] = {}
    variance: dict[str, Floats] = {}
    for run in runs:
        start = plant.facts.calendar.local_day(plant.clock.instant(run.timing.start_min))
        column = min(sum(day < start for day in days), len(days) - 1)
        needed = needs_of(plant, run.line, run.timing.changeover_from, run.lot.filament, run.lot.spools)
        for item, quantity in needed.items():
            mean.setdefault(item, np.zeros(len(days)))[column:] += quantity
    for s, sku in enumerate(plant.facts.skus):
        made = _made_beyond(plant, s, int(all_supply[s]))
        if not plant.lines_for(sku.filament) or made[-1] <= 0:
            continue
        early = min(math.ceil(lead_days[sku.filament]), len(days) - 1)
        units = np.append(made[early:], np.full(early, made[-1]))
        spread = np.where(units > 0, np.append(np.array(sku.variance)[early:], np.full(early, sku.variance[-1])), 0.0)
        for item, each in _needs_of_spool(plant, s).items():
            mean.setdefault(item, np.zeros(len(days)))[:] += each * units
            variance.setdefault(item, np.zeros(len(days)))[:] += each**2 * spread
    return Needs(days, mean, {item: variance.get(item, np.zeros(len(days))) for item in mean})


def _made_beyond(plant: Plant, sku: int, supply: int) -> Floats:
    """Return the spools that the demand asks for beyond the supply, by the day on which they are to be shelved."""
    facts = plant.facts.skus[sku]
    return np.asarray(np.maximum(facts.late + np.array(facts.due) + np.array(facts.mean) - supply, 0.0))


def _needs_of_spool(plant: Plant, sku: int) -> dict[str, float]:
    """Return what one spool takes from the store, without a changeover."""
    filament = plant.facts.skus[sku].filament
    line = plant.lines_for(filament)[0]
    one = [int(s == sku) for s in plant.skus_of[filament]]
    return needs_of(plant, line, None, filament, one)
