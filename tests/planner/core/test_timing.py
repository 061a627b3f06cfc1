"""Minutes, shifts and crews by hand."""

from __future__ import annotations

from stockplan.planner.core.timing import CrewBoard, MinuteClock, Spans, merged
from tests.planner.small_facts import MONDAY

TWO_SHIFTS = Spans(((0, 480), (1440, 1920)))


def test_spans_carry_work_over_to_the_next_shift() -> None:
    assert TWO_SHIFTS.add(400, 80) == 480
    assert TWO_SHIFTS.add(400, 100) == 1460
    assert TWO_SHIFTS.add(1900, 100) is None


def test_spans_open_next_at_the_next_shift() -> None:
    assert TWO_SHIFTS.next_open(100) == 100
    assert TWO_SHIFTS.next_open(480) == 1440


def test_merged_joins_what_touches_or_overlaps() -> None:
    assert merged([(10, 20), (0, 10), (15, 30), (40, 50)]).spans == ((0, 30), (40, 50))


def test_minute_clock_rounds_up_to_the_first_whole_minute() -> None:
    clock = MinuteClock(MONDAY)
    assert clock.minute(clock.instant(7).replace(second=1)) == 8
    assert clock.instant(clock.minute(clock.instant(7))) == clock.instant(7)


def test_crew_makes_one_changeover_after_the_other() -> None:
    crews = CrewBoard(((0, 480, 1),))
    crews.take((0, 60))
    assert crews.earliest(0, 30, TWO_SHIFTS) == (60, 90)


def test_two_crews_make_two_changeovers_at_once_but_not_three() -> None:
    crews = CrewBoard(((0, 480, 2),))
    crews.take((0, 60))
    assert crews.earliest(0, 30, TWO_SHIFTS) == (0, 30)
    crews.take((0, 30))
    assert crews.earliest(0, 30, TWO_SHIFTS) == (30, 60)


def test_crew_does_not_begin_a_changeover_that_outlasts_the_shift() -> None:
    assert CrewBoard(None).earliest(470, 30, TWO_SHIFTS) == (1440, 1470)


def test_crew_splits_a_changeover_that_is_longer_than_every_shift() -> None:
    assert CrewBoard(None).earliest(0, 500, TWO_SHIFTS) == (0, 1460)


def test_crews_of_an_early_shift_are_not_there_in_the_late_one() -> None:
    crews = CrewBoard(((0, 240, 2), (240, 480, 1)))
    crews.take((200, 300))
    assert crews.earliest(200, 60, Spans(((0, 480),))) == (300, 360)
