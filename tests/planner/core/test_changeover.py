"""Changeovers by pair. The rule is the plant's own; expected minutes are summed by hand."""

from __future__ import annotations

import pytest

from stockplan.planner.core.changeover import ChangeoverTable, FilamentTraits, Override, changeover_table
from tests.planner.small_facts import RULE

BLACK = FilamentTraits("BLACK", "PLA", "black", lab_l=10, diameter_mm=1.75)
WHITE = FilamentTraits("WHITE", "PLA", "white", lab_l=90, diameter_mm=1.75)
THICK = FilamentTraits("THICK", "PLA", "white", lab_l=90, diameter_mm=2.85)
OTHER = FilamentTraits("OTHER", "PETG", "black", lab_l=10, diameter_mm=1.75)


def _table(*overrides: Override) -> ChangeoverTable:
    return changeover_table([BLACK, WHITE, THICK, OTHER], lines=["L1", "L2"], rule=RULE, overrides=overrides)


def _minutes(table: ChangeoverTable, origin: str, target: str, line: str = "L1") -> float:
    return float(table.minutes[line][table.index[origin], table.index[target]])


# Rule: material 60, diameter 25, colour 12 and half a minute per point of L* upwards.
@pytest.mark.parametrize(
    ("origin", "target", "minutes"),
    [
        ("BLACK", "WHITE", 12 + 80 * 0.5),
        ("WHITE", "BLACK", 12),
        ("WHITE", "THICK", 25),
        ("BLACK", "OTHER", 60),
        ("OTHER", "THICK", 60 + 25 + 12 + 80 * 0.5),
        ("WHITE", "WHITE", 0),
    ],
)
def test_changeover_minutes_add_up_by_kind_of_change(origin: str, target: str, minutes: float) -> None:
    assert _minutes(_table(), origin, target) == pytest.approx(minutes)


def test_changeover_purges_by_its_minutes() -> None:
    table = _table()
    # 52 minutes at 6 kg an hour.
    assert table.purge_kg["L1"][table.index["BLACK"], table.index["WHITE"]] == pytest.approx(5.2)


def test_changeover_of_a_line_beats_that_of_every_line_and_the_rule() -> None:
    everywhere = Override(None, ("BLACK", "WHITE"), minutes=30, purge_kg=3)
    on_second = Override("L2", ("BLACK", "WHITE"), minutes=20, purge_kg=2)
    table = _table(on_second, everywhere)
    assert (_minutes(table, "BLACK", "WHITE"), _minutes(table, "BLACK", "WHITE", "L2")) == (30, 20)
    assert _minutes(table, "WHITE", "BLACK") == 12
