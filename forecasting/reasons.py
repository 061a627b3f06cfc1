"""Why a forecast is as it is, in one plain sentence per SKU."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from forecasting.classification import DemandClass
from forecasting.methods.candidates import Candidate
from forecasting.past import Past
from forecasting.selection import Choice

IntArray = NDArray[np.int64]
FloatArray = NDArray[np.float64]

# Methods of a mixture that are named.
NAMED = 2


def reasons_for(
    choice: Choice,
    candidates: tuple[Candidate, ...],
    *,
    weight: FloatArray,
    past: Past,
    classes: IntArray,
    risk: IntArray,
) -> list[str]:
    """Return the sentences in the order of the SKUs; ``weight`` (K, n) as it is used."""
    known = (~np.isnan(past.units)).sum(axis=1)
    by_weight = np.argsort(-weight, axis=0, kind="stable")[:NAMED]
    sentences = []
    for s, c in enumerate(classes):
        sells = _how_it_sells(str(past.demand_class[s]), int(past.n_events[s]), int(known[s]))
        named = [f"{candidates[k].words} ({weight[k, s]:.0%})" for k in by_weight[:, s] if weight[k, s] > 0]
        proof = _proof(choice.gain_share[c], int(choice.windows[c]), int(risk[s]))
        sentences.append(f"{sells}. A mixture, chiefly {' and '.join(named)}; {proof}.")
    return sentences


def _proof(gain: float, windows: int, risk: int) -> str:
    if not windows:
        return "the record is too short to compare methods"
    if np.isnan(gain):
        return f"nothing was sold in its class over {windows} windows"
    against = f"{abs(gain):.0%} {'less' if gain >= 0 else 'more'} loss than the best plain method of its class"
    return f"{against} on {risk}-period demand over {windows} windows"


def _how_it_sells(demand_class: str, n_events: int, known: int) -> str:
    if demand_class == DemandClass.NEW:
        return f"New, {known} periods on record"
    if n_events == 0:
        return f"No sale in {known} periods"
    if demand_class == DemandClass.SPARSE:
        return f"Sparse, sold in {n_events} of {known} periods"
    return f"{demand_class.capitalize()}, sold in {n_events} of {known} periods"
