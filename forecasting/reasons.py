"""Why a forecast is as it is, in plain words per SKU."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from forecasting.classification import DemandClass
from forecasting.messages import Message, message
from forecasting.methods.candidates import Candidate
from forecasting.past import Past
from forecasting.selection import Choice

IntArray = NDArray[np.int64]
FloatArray = NDArray[np.float64]

# Methods of a mixture that are named.
NAMED = 2
HOW = {
    DemandClass.SMOOTH: message("Smooth"),
    DemandClass.INTERMITTENT: message("Intermittent"),
    DemandClass.ERRATIC: message("Erratic"),
    DemandClass.LUMPY: message("Lumpy"),
    DemandClass.SPARSE: message("Sparse"),
}


def reasons_for(
    choice: Choice,
    candidates: tuple[Candidate, ...],
    *,
    weight: FloatArray,
    past: Past,
    classes: IntArray,
    risk: IntArray,
) -> list[Message]:
    """Return the sentences in the order of the SKUs; ``weight`` (K, n) as it is used."""
    known = (~np.isnan(past.units)).sum(axis=1)
    by_weight = np.argsort(-weight, axis=0, kind="stable")[:NAMED]
    sentences = []
    for s, c in enumerate(classes):
        chiefly = tuple(
            message("{method} ({weight:.0%})", method=candidates[k].words, weight=float(weight[k, s]))
            for k in by_weight[:, s]
            if weight[k, s] > 0
        )
        sells = _how_it_sells(str(past.demand_class[s]), int(past.n_events[s]), int(known[s]))
        proof = _proof(float(choice.gain_share[c]), int(choice.windows[c]), int(risk[s]))
        words = message("{sells}. A mixture, chiefly {chiefly}; {proof}.", sells=sells, chiefly=chiefly, proof=proof)
        sentences.append(words)
    return sentences


def _proof(gain: float, windows: int, risk: int) -> Message:
    if not windows:
        return message("the record is too short to compare methods")
    if np.isnan(gain):
        return message("nothing was sold in its class over {windows} windows", windows=windows)
    if gain >= 0:
        return message(
            "{gain:.0%} less loss than the best plain method of its class on {risk}-period demand over {windows} "
            "windows",
            gain=gain,
            risk=risk,
            windows=windows,
        )
    return message(
        "{loss:.0%} more loss than the best plain method of its class on {risk}-period demand over {windows} windows",
        loss=-gain,
        risk=risk,
        windows=windows,
    )


def _how_it_sells(demand_class: str, n_events: int, known: int) -> Message:
    if demand_class == DemandClass.NEW:
        return message("New, {known} periods on record", known=known)
    if n_events == 0:
        return message("No sale in {known} periods", known=known)
    return message("{how}, sold in {n} of {known} periods", how=HOW[DemandClass(demand_class)], n=n_events, known=known)
