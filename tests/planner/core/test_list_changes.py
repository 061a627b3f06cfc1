"""What changed from one list to another."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from stockplan.planner.core.facts import PlacedRun
from stockplan.planner.core.list_changes import Kind, change_sentence, list_changes

ZONE = ZoneInfo("Europe/Berlin")
MONDAY = datetime(2027, 3, 1, 5, tzinfo=UTC)
A, B = PlacedRun("A", "L1", MONDAY, {"A-1000": 6}), PlacedRun("B", "L1", MONDAY + timedelta(hours=4), {"B-1000": 3})


def _run(filament: str, *, line: str = "L1", hours: float = 0.0, spools: int = 6) -> PlacedRun:
    return PlacedRun(filament, line, MONDAY + timedelta(hours=hours), {f"{filament}-1000": spools})


def _said(before: list[PlacedRun], after: list[PlacedRun]) -> list[str]:
    return [str(change_sentence(change, zone=ZONE)) for change in list_changes(before, after)]


def test_equal_lists_do_not_differ_whatever_the_order_of_their_runs() -> None:
    assert list_changes([A, B], [B, A]) == ()


@pytest.mark.parametrize(
    ("before", "after", "said"),
    [
        ([], [A], "New: A on L1, Mon 1 Mar 06:00, 6 spools."),
        ([A], [], "Dropped: A on L1, Mon 1 Mar 06:00, 6 spools."),
        ([A], [_run("A", spools=9)], "Resized: A on L1, Mon 1 Mar 06:00, 9 spools, 6 before."),
        (
            [A],
            [PlacedRun("A", "L1", MONDAY, {"A-1000": 4, "A-250": 2})],
            "Resized: A on L1, Mon 1 Mar 06:00, 6 spools, as many as before in other sizes.",
        ),
        ([A], [_run("A", line="L2")], "Moved: A on L2, Mon 1 Mar 06:00, 6 spools, before on L1, Mon 1 Mar 06:00."),
        (
            [A],
            [_run("A", hours=24, spools=1)],
            "Moved: A on L1, Tue 2 Mar 06:00, 1 spool, before on L1, Mon 1 Mar 06:00, 6 spools.",
        ),
    ],
)
def test_run_that_differs_is_named_with_what_became_of_it(
    before: list[PlacedRun], after: list[PlacedRun], said: str
) -> None:
    assert _said(before, after) == [said]


@pytest.mark.parametrize(("hours", "kinds"), [(1.0, []), (1.1, [Kind.MOVED]), (-1.1, [Kind.MOVED])])
def test_run_that_begins_within_the_hour_stands_where_it_stood(hours: float, kinds: list[Kind]) -> None:
    assert [change.kind for change in list_changes([A], [_run("A", hours=hours)])] == kinds


@pytest.mark.parametrize(("days", "hours", "kinds"), [(0, 1.1, [Kind.MOVED]), (4, 12.9, []), (4, 13.1, [Kind.MOVED])])
def test_run_farther_ahead_may_shift_by_an_eighth_of_the_time_until_then(
    days: int, hours: float, kinds: list[Kind]
) -> None:
    # Four days are 96 hours: an eighth is 12, and one hour more.
    old, new = _run("A", hours=24 * days), _run("A", hours=24 * days + hours)
    assert [change.kind for change in list_changes([old], [new], as_of=MONDAY)] == kinds
    assert [change.kind for change in list_changes([new], [old], as_of=MONDAY)] == kinds


def test_released_run_stands_by_the_hour_however_far_ahead() -> None:
    old, new = _run("A", hours=96), _run("A", hours=97.1)
    assert [change.kind for change in list_changes([old], [new])] == [Kind.MOVED]


def test_runs_of_one_filament_are_paired_on_their_lines_first() -> None:
    second = _run("A", line="L2", hours=8)
    assert [change.kind for change in list_changes([A, second], [second])] == [Kind.DROPPED]


def test_changes_come_in_the_order_in_which_the_runs_begin() -> None:
    later = _run("A", hours=9)
    assert [change.run for change in list_changes([], [later, B])] == [B, later]
