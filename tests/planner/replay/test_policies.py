"""What tells the plain index from the make list."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from stockplan.planner.core.facts import PlanFacts
from stockplan.planner.core.floor import TimedRun
from stockplan.planner.core.parameters import PlanParameters
from stockplan.planner.core.replay.morning import MorningForecast
from stockplan.planner.core.replay.policies import PlainIndexPolicy, Policy, scaled
from stockplan.planner.core.replay.simulation import replay
from tests.planner.replay.small_stretch import FIRST, HORIZON, forecasts, ordered, stretch
from tests.planner.small_facts import MONDAY, facts, filament, line, material, sku


def _two_materials() -> PlanFacts:
    """The line holds PLA. A of PLA sells a little less than B of PETG, an hour's changeover away."""
    return facts(
        days=HORIZON,
        skus=(sku("A", daily=2.0, days=HORIZON, order_up_to=12), sku("B", daily=2.0, days=HORIZON, order_up_to=12)),
        filaments=(filament("A"), filament("B", material_code="PETG")),
        materials=(material(), material("PETG")),
        lines=(line(makes=("A", "B"), holds="A"),),
    )


def test_plain_index_looks_neither_at_the_way_back_nor_at_a_share_of_the_best_use() -> None:
    def lots(policy: Policy, **parameters: float) -> list[tuple[str, tuple[int, ...]]]:
        plant = replace(_two_materials(), parameters=PlanParameters(**parameters))
        return [(run.lot.filament, run.lot.spools) for run in policy(plant, forecasts()(MONDAY))]

    plain = lots(PlainIndexPolicy())
    assert lots(PlainIndexPolicy(), stop_share=0.01, way_back_min=500.0) == plain
    # The first lot ends where the other filament is worth as much a minute; the list's goes on.
    assert plain[0][0] == "A"
    assert plain[0][1][0] < 12


def test_levels_are_scaled_and_rounded_up() -> None:
    assert [s.order_up_to for s in scaled(_two_materials(), 0.3).skus] == [4, 4]


def test_policy_is_shown_the_days_that_a_list_covers() -> None:
    seen: list[PlanFacts] = []

    def watch(shown: PlanFacts, _morning: MorningForecast) -> Sequence[TimedRun]:
        seen.append(shown)
        return ()

    replay(stretch(ordered(), list_days=3), watch, forecast_of=forecasts())
    assert [shown.first_day for shown in seen] == [FIRST.replace(day=d) for d in (1, 2, 3, 4, 5)]
    assert [shown.last_day.day for shown in seen] == [3, 4, 5, 8, 9]
