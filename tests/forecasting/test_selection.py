"""The choice from made-up losses. The rule is the project's own: common practice, no source."""

from __future__ import annotations

import numpy as np
import pytest

from forecasting.backtest import CLASSES
from forecasting.methods.candidates import Candidate, candidates_for
from forecasting.selection import choose, choose_unproven

CANDIDATES = candidates_for(has_factors=False)
NAMES = [c.name for c in CANDIDATES]
ORIGINS, SKUS = 10, 12
LUMPY = CLASSES.index("lumpy")


def _losses(**best: float) -> np.ndarray:
    loss = np.ones((ORIGINS, len(CANDIDATES), SKUS))
    for name, value in best.items():
        loss[:, NAMES.index(name.replace("_", " ").replace("pt", "."))] = value
    return loss


def _choose(loss: np.ndarray, candidates: tuple[Candidate, ...] = CANDIDATES) -> list[str]:
    choice = choose(
        loss,
        past_class=np.full((ORIGINS, SKUS), LUMPY),
        present_class=np.full(SKUS, LUMPY),
        candidates=candidates,
        is_possible=np.ones((len(candidates), SKUS), dtype=bool),
    )
    return [candidates[m].name for m in choice.method]


def test_method_with_the_least_loss_is_chosen() -> None:
    assert _choose(_losses(tsb_0pt05=0.5)) == ["tsb 0.05"] * SKUS


def test_benchmark_is_used_for_the_class_when_it_wins_the_class() -> None:
    loss = _losses(sba_0pt1=0.9)
    loss[:, NAMES.index("tsb 0.05"), 0] = 0.01  # luck of one SKU does not overrule its class
    assert _choose(loss) == ["sba 0.1"] * SKUS


def test_sku_departs_from_its_class_when_its_own_losses_say_so_clearly() -> None:
    loss = _losses(tsb_0pt05=0.9)
    loss[:, NAMES.index("ses 0.2"), 3] = 0.1
    assert _choose(loss) == ["ses 0.2" if s == 3 else "tsb 0.05" for s in range(SKUS)]


def test_method_that_cannot_serve_a_sku_is_not_chosen_for_it() -> None:
    is_possible = np.ones((len(CANDIDATES), SKUS), dtype=bool)
    is_possible[NAMES.index("tsb 0.05"), 5] = False
    choice = choose(
        _losses(tsb_0pt05=0.5, ses_0pt02=0.7),
        past_class=np.full((ORIGINS, SKUS), LUMPY),
        present_class=np.full(SKUS, LUMPY),
        candidates=CANDIDATES,
        is_possible=is_possible,
    )
    assert NAMES[choice.method[5]] == "ses 0.02"


def test_gain_is_the_share_less_loss_than_the_best_benchmark() -> None:
    choice = choose(
        _losses(tsb_0pt05=0.6, sba_0pt1=0.8),
        past_class=np.full((ORIGINS, SKUS), LUMPY),
        present_class=np.full(SKUS, LUMPY),
        candidates=CANDIDATES,
        is_possible=np.ones((len(CANDIDATES), SKUS), dtype=bool),
    )
    assert choice.gain_share[0] == pytest.approx(1 - 0.6 / 0.8)


def test_gain_is_nil_when_a_benchmark_loses_nothing() -> None:
    # SKUs that never sold: 0 / 0 is no share of anything (it was, and warned).
    choice = choose(
        _losses(seasonal_naive=0.0),
        past_class=np.full((ORIGINS, SKUS), LUMPY),
        present_class=np.full(SKUS, LUMPY),
        candidates=CANDIDATES,
        is_possible=np.ones((len(CANDIDATES), SKUS), dtype=bool),
    )
    assert {NAMES[m] for m in choice.method} == {"seasonal naive"}
    assert choice.gain_share.tolist() == [0.0] * SKUS


def test_choice_goes_by_class_when_nothing_was_compared() -> None:
    classes = np.array([CLASSES.index(name) for name in ("new", "sparse", "smooth", "lumpy")])
    choice = choose_unproven(CANDIDATES, present_class=classes)
    assert [NAMES[m] for m in choice.method] == ["attributes", "attributes", "ses 0.05", "tsb 0.05"]
    assert np.all(np.isnan(choice.gain_share))
