"""What tells the plain index from the make list."""

from __future__ import annotations

from collections.abc import Sequence

from stockplan.planner.core.facts import PlanFacts
from stockplan.planner.core.floor import TimedRun
from stockplan.planner.core.replay.morning import MorningForecast
from stockplan.planner.core.replay.policies import MakeListPolicy, PlainIndexPolicy, scaled
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


def test_plain_index_ends_a_lot_sooner_than_the_make_list() -> None:
    morning = forecasts()(MONDAY)
    plain = PlainIndexPolicy()(_two_materials(), morning)[0]
    listed = min(MakeListPolicy()(_two_materials(), morning), key=lambda run: run.timing.start_min)
    assert (plain.lot.filament, listed.lot.filament) == ("A", "A")
    assert sum(plain.lot.spools) < sum(listed.lot.spools)


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
