"""What keeps a list from shipping in time, counted by hand. A kilogram winds in 20 minutes, a start-up takes 10."""

from __future__ import annotations

from typing import Any

import pytest

from stockplan.planner.core.facts import HopperFacts, Instruction, InstructionKind, OvenFacts, SkuFacts, StoreItem
from stockplan.planner.core.limits import Limit, Limits
from stockplan.planner.core.planning import Plan, make_plan
from tests.planner.small_facts import facts, filament, material, sku

DAYS = 8
BAN = Instruction(InstructionKind.FORBID, "A")
HOPPER = HopperFacts("H1", 200.0, is_continuous=False, clean_min=0, holds_material=None, dried_since=None)


def _due(code: str, units: int, *, on_day: int) -> SkuFacts:
    """Units that are in the books for one day (index), and nothing more to come."""
    due = tuple(units if day >= on_day else 0 for day in range(DAYS))
    return sku(code, due=due, mean=(0.0,) * DAYS, variance=(0.0,) * DAYS, order_up_to=0)


def _plan(*skus: SkuFacts, **fields: Any) -> Plan:
    return make_plan(facts(codes=tuple(s.filament for s in skus), skus=skus, **fields))


def _parts(limits: Limits) -> tuple[float, float, float, float]:
    return limits.lead_time, limits.not_made, limits.finishing, limits.lines


@pytest.mark.parametrize(
    ("on_day", "units", "fields", "parts", "most"),
    [
        # Wound on Monday is shelved on Tuesday: what is due on Monday comes too late whatever is done.
        pytest.param(0, 6, {}, (6, 0, 0, 0), Limit.LEAD_TIME, id="due before a run can be there"),
        # 100 spools take 2,010 minutes, and Monday has 960.
        pytest.param(1, 100, {}, (0, 0, 0, 100), Limit.LINES, id="a long run"),
        pytest.param(1, 6, {"ovens": (OvenFacts("O1", 4.0, 50),)}, (0, 0, 2, 0), Limit.FINISHING, id="a small oven"),
        pytest.param(1, 6, {"instructions": (BAN,)}, (0, 6, 0, 0), Limit.NOT_MADE, id="forbidden"),
        pytest.param(
            1,
            6,
            {"store": (StoreItem("RESIN-PLA", "resin", "kg", 0.0, 3),)},
            (0, 6, 0, 0),
            Limit.NOT_MADE,
            id="no resin",
        ),
        pytest.param(1, 6, {"lines": ()}, (0, 6, 0, 0), Limit.NOT_MADE, id="no line"),
        pytest.param(1, 6, {}, (0, 0, 0, 0), Limit.NONE, id="nothing"),
    ],
)
def test_missed_spools_are_counted_by_what_keeps_them(
    on_day: int, units: int, fields: dict[str, Any], *, parts: tuple[float, ...], most: Limit
) -> None:
    limits = _plan(_due("A", units, on_day=on_day), **fields).limits
    assert _parts(limits) == pytest.approx(parts, abs=1e-9)
    assert limits.most == most


def test_lines_that_wait_for_the_only_hopper_are_said_to() -> None:
    # A dries from 06:00, runs from 10:00 for 610 minutes; PETG then needs 4 h more, and the shift ends at 22:00.
    grades = (filament("A"), filament("B", material_code="PETG"))
    plan = _plan(
        _due("A", 30, on_day=1),
        _due("B", 6, on_day=1),
        filaments=grades,
        materials=(material("PLA"), material("PETG")),
        hoppers=(HOPPER,),
    )
    assert _parts(plan.limits) == pytest.approx((0, 0, 0, 6), abs=1e-9)
    # Three days of 960 minutes; idle 240 for A and 110 for B on Monday.
    assert plan.limits.drying_share == pytest.approx((240 + 110) / 2880)
    assert plan.limits.busy_share == pytest.approx((610 + 12 + 60 + 130) / 2880)
    assert (plan.limits.most, str(plan.limit)) == (
        Limit.DRYING,
        "the lines wait 12% of their time until Wed 3 Mar for dry resin",
    )


def test_assumptions_say_what_the_misses_are_made_of() -> None:
    # 100 spools due on Monday are wound by Wednesday and shelved on Thursday: they wait over Tuesday and Wednesday.
    plan = _plan(_due("A", 100, on_day=0))
    assert plan.misses_with == pytest.approx(100 + 2 * 0.1 * 100)
    assert str(plan.assumptions[0]) == (
        "Of the 120.0 misses with the list, 100.0 are spools due up to Wed 3 Mar that will not ship on their due day, "
        "20.0 are further days that late spools wait until then (0.1 of a miss each), and 0.0 belong to later days."
    )
