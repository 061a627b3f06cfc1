"""Estimates from finished runs: credibility by hand, recovery of known truth, and the limits."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from stockplan.planner.core.learning import FinishedRun, learn_line

PAIR = ("A", "B")


def _run(real_min: float, **fields: Any) -> FinishedRun:
    figures: dict[str, Any] = {"pair": None, "changeover_min": 0.0, "winding_min": 100.0}
    return FinishedRun(real_min=real_min, **(figures | {"wound_kg": 100.0, "scrap_kg": 2.0} | fields))


def test_winding_factor_is_the_credibility_mean() -> None:
    # Four runs of 100 min take 90, 110, 130 and 150 min: mean ratio 1.2. With spread s of a run the weight of the
    # entered value is k = (s / 100)^2 / 0.15^2, and the estimate (4 x 1.2 + k x 1) / (4 + k).
    found = learn_line([_run(m) for m in (90.0, 110.0, 130.0, 150.0)], scrap_share=0.02)
    # Residuals around the mean are -30, -10, 10, 30; three runs of a tenth of 100 min stand beside them.
    assert found.run_spread_min == pytest.approx(np.sqrt((3 * 10**2 + 2000) / (3 + 4 - 1)))
    k = (found.run_spread_min / 100) ** 2 / 0.15**2
    assert found.winding_factor.learned == pytest.approx((4 * 1.2 + k) / (4 + k))
    assert found.winding_factor.spread == pytest.approx(0.15 * np.sqrt(k / (4 + k)))
    assert (found.winding_factor.entered, found.winding_factor.runs) == (1.0, 4)


def test_truth_is_found_from_many_runs() -> None:
    rng = np.random.default_rng(1)
    runs = []
    for i in range(400):
        winding, changed = rng.uniform(50, 400), i % 2 == 0
        real = 1.25 * winding + 55 * changed + rng.normal(0, 5)
        pair = {"pair": PAIR, "changeover_min": 30.0} if changed else {}
        runs.append(_run(real, winding_min=winding, **pair))
    found = learn_line(runs, scrap_share=0.02)
    assert found.winding_factor.learned == pytest.approx(1.25, abs=0.01)
    assert found.changeovers[PAIR].learned == pytest.approx(55, abs=2)
    assert found.run_spread_min == pytest.approx(5, rel=0.15)
    assert (found.changeovers[PAIR].entered, found.changeovers[PAIR].runs) == (30.0, 200)


def test_truth_lies_within_the_spread_as_often_as_it_should() -> None:
    # The prior is drawn from, then runs: two standard deviations hold about 95 % (normal table).
    rng = np.random.default_rng(2)
    inside = 0
    for _ in range(300):
        factor = rng.normal(1.0, 0.15)
        runs = [_run(factor * 100 + rng.normal(0, 10)) for _ in range(8)]
        estimate = learn_line(runs, scrap_share=0.02).winding_factor
        inside += abs(estimate.learned - factor) <= 2 * estimate.spread
    assert 0.88 <= inside / 300 <= 0.99


def test_one_run_moves_little_and_many_move_much() -> None:
    def learned(count: int) -> float:
        wide = [_run(130.0 + 40 * (-1) ** i) for i in range(count)]
        return learn_line(wide, scrap_share=0.02).winding_factor.learned

    assert 1.0 < learned(2) < learned(10) < learned(100) < 1.3


def test_scrap_share_is_weighed_by_mass_against_the_entered_one() -> None:
    # 30 of 500 kg against 2 % of 500 kg: (30 + 10) / (500 + 500).
    found = learn_line([_run(100.0, wound_kg=400.0, scrap_kg=10.0), _run(100.0, scrap_kg=20.0)], scrap_share=0.02)
    assert found.scrap_share.learned == pytest.approx(0.04)
    assert found.scrap_share.runs == 2


def test_runs_that_agree_convince() -> None:
    found = learn_line([_run(200.0)] * 8, scrap_share=0.02).winding_factor
    assert found.learned == pytest.approx(2.0, abs=0.1)


def test_pair_without_a_run_is_not_estimated() -> None:
    found = learn_line([_run(140.0, pair=PAIR, changeover_min=40.0)], scrap_share=0.0)
    assert list(found.changeovers) == [PAIR]


def test_runs_as_planned_leave_the_entered_figures() -> None:
    found = learn_line([_run(140.0, pair=PAIR, changeover_min=40.0), _run(100.0)] * 5, scrap_share=0.02)
    assert found.winding_factor.learned == pytest.approx(1.0)
    assert found.changeovers[PAIR].learned == pytest.approx(40.0)
    assert found.scrap_share.learned == pytest.approx(0.02)


def test_order_of_runs_does_not_matter() -> None:
    runs = [_run(90.0), _run(150.0, pair=PAIR, changeover_min=40.0), _run(130.0)]
    forth, back = learn_line(runs, scrap_share=0.02), learn_line(runs[::-1], scrap_share=0.02)
    assert forth.winding_factor.learned == pytest.approx(back.winding_factor.learned, rel=1e-12)


def test_nothing_is_learned_from_no_run() -> None:
    with pytest.raises(ValueError, match="no finished run"):
        learn_line([], scrap_share=0.02)
