"""Why a method was chosen, in one plain sentence per SKU."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from forecasting.classification import DemandClass
from forecasting.methods.candidates import Candidate
from forecasting.past import Past
from forecasting.selection import Choice

IntArray = NDArray[np.int64]


def reasons_for(choice: Choice, candidates: tuple[Candidate, ...], *, past: Past, risk: IntArray) -> list[str]:
    """Return the sentences in the order of the SKUs."""
    known = (~np.isnan(past.units)).sum(axis=1)
    rows = zip(
        choice.method, choice.gain_share, choice.windows, choice.is_class_wide, past.demand_class,
        past.n_events, known, risk, strict=True,
    )  # fmt: skip
    return [_sentence(candidates[m], *facts) for m, *facts in rows]


def _sentence(  # noqa: PLR0917 - one row of the facts above
    method: Candidate,
    gain_share: float,
    windows: int,
    is_class_wide: bool,
    demand_class: str,
    n_events: float,
    known: int,
    risk: int,
) -> str:
    sells = _how_it_sells(demand_class, int(n_events), int(known))
    if np.isnan(gain_share):
        return f"{sells}: {method.words}; the record is too short to compare methods."
    if is_class_wide:
        return f"{sells}: {method.words}; no finer method did better for its class over {windows} windows."
    against = (
        f"{abs(gain_share):.0%} {'less' if gain_share >= 0 else 'more'} loss than the best plain method of its class"
    )
    return f"{sells}: {method.words}; {against} on {risk}-period demand over {windows} windows."


def _how_it_sells(demand_class: str, n_events: int, known: int) -> str:
    if demand_class == DemandClass.NEW:
        return f"New, {known} periods on record"
    if n_events == 0:
        return f"No sale in {known} periods"
    if demand_class == DemandClass.SPARSE:
        return f"Sparse, sold in {n_events} of {known} periods"
    return f"{demand_class.capitalize()}, sold in {n_events} of {known} periods"
