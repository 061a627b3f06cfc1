"""The calendar, checked against tz data, public holidays and hours counted by hand.

Sources: fixtures/reference/calendar.json (tz database 2026; the `holidays` package; ISO 8601). Dates in 2026: 1 January
is a Thursday, 28/29 March the European spring change, 24/25 October the autumn one.
"""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from inventory.rules.calendar import CalendarError, CrewWindow, DayRule, PlantCalendar, Window, WorkingTime

REFERENCE = {
    row["name"]: row
    for row in json.loads((Path(__file__).parents[3] / "fixtures/reference/calendar.json").read_text(encoding="utf-8"))
}
BERLIN = ZoneInfo("Europe/Berlin")
WEEKDAY = DayRule(
    cut_off=time(12), pick_up=time(15), oven_load_at=time(21), pack_from=time(7), shelf_ready=time(9), pack_spools=100
)


def calendar(zone: ZoneInfo = BERLIN, *, closed: tuple[date, ...] = (), rules: dict[int, DayRule] | None = None):
    return PlantCalendar(
        zone=zone,
        day_rules=rules or dict.fromkeys(range(5), WEEKDAY),
        closed_days=frozenset(closed),
        shifts={"L1": tuple(Window(day, time(6), time(22)) for day in range(5))},
    )


def local(text: str, zone: ZoneInfo = BERLIN) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=zone)


@pytest.mark.parametrize("index", range(4))
def test_cut_off_follows_the_published_offsets_on_both_sides_of_both_changes(index):
    case = REFERENCE["Noon cut-off in UTC across DST"]
    every_day = calendar(ZoneInfo(case["inputs"]["zone"]), rules=dict.fromkeys(range(7), WEEKDAY))
    day = date.fromisoformat(case["inputs"]["local"][index][:10])
    assert every_day.cut_off_at(day) == datetime.fromisoformat(case["expected"]["utc"][index])


@pytest.mark.parametrize(
    ("received", "ship_day"),
    [
        ("2026-06-10T11:59:59.999999", "2026-06-10"),
        ("2026-06-10T12:00", "2026-06-11"),  # exactly at the cut-off is late
        ("2026-06-12T12:00", "2026-06-15"),  # Friday noon: Monday
        ("2026-06-13T08:00", "2026-06-15"),  # Saturday
        ("2026-03-27T12:00", "2026-03-30"),  # over the spring change
        ("2026-10-23T12:00", "2026-10-26"),  # over the autumn change
    ],
)
def test_ship_day_is_today_only_before_the_cut_off(received, ship_day):
    assert calendar().ship_day_of(local(received)) == date.fromisoformat(ship_day)


def test_ship_day_reads_an_instant_in_the_plants_zone():
    assert calendar().ship_day_of(datetime(2026, 6, 9, 22, 30, tzinfo=UTC)) == date(2026, 6, 10)


def test_a_closed_friday_moves_the_ship_day_to_monday():
    closed = calendar(closed=(date(2026, 6, 12),))
    assert closed.ship_day_of(local("2026-06-11T12:30")) == date(2026, 6, 15)


def test_year_end_skips_the_closed_days():
    closed = calendar(closed=(date(2026, 12, 31), date(2027, 1, 1)))
    assert closed.ship_day_of(local("2026-12-30T13:00")) == date(2027, 1, 4)


def test_nth_ship_day_counts_ship_days_only():
    closed = calendar(closed=(date(2026, 6, 12),))
    assert [closed.nth_ship_day_after(date(2026, 6, 10), n) for n in (0, 1, 2, 6)] == [
        date(2026, 6, 10),
        date(2026, 6, 11),
        date(2026, 6, 15),
        date(2026, 6, 19),
    ]


def test_nth_ship_day_zero_of_a_sunday_is_monday():
    assert calendar().nth_ship_day_after(date(2026, 6, 14), 0) == date(2026, 6, 15)


def test_ship_days_of_iso_week_53_are_five():
    # ISO 8601: 2026 has 53 weeks, week 53 runs from Monday 28 December to Sunday 3 January.
    days = calendar().ship_days(date.fromisocalendar(2026, 53, 1), date.fromisocalendar(2026, 53, 7))
    assert (len(days), days[0], days[-1]) == (5, date(2026, 12, 28), date(2027, 1, 1))


@pytest.mark.parametrize(
    ("wanted", "due"), [(None, "2026-06-10"), ("2026-06-08", "2026-06-10"), ("2026-06-20", "2026-06-22")]
)
def test_due_day_is_the_later_of_ship_day_and_wanted_day(wanted, due):
    wanted_day = date.fromisoformat(wanted) if wanted else None
    assert calendar().due_day(local("2026-06-10T09:00"), wanted_day) == date.fromisoformat(due)


@pytest.mark.parametrize(
    ("loaded", "hours", "shelved"),
    [
        # Elapsed hours of the source: 22:00 to 06:00 lasts 7 h in spring and 9 h in autumn.
        ("2026-03-28T22:00", 7, "2026-03-29T08:00"),
        ("2026-03-28T22:00", 7.5, "2026-03-30T08:00"),
        ("2026-10-24T22:00", 9, "2026-10-25T08:00"),
        ("2026-10-24T22:00", 9.5, "2026-10-26T08:00"),
    ],
)
def test_drying_counts_elapsed_hours_in_the_night_of_a_clock_change(loaded, hours, shelved):
    assert REFERENCE["Overnight drying 22:00-06:00 across EU spring change"]["expected"]["elapsed_hours"] == 7.0
    rule = DayRule(time(12), time(15), time(22), time(6), time(8), 100)
    every_day = calendar(rules=dict.fromkeys(range(7), rule))
    assert every_day.shelf_at(local(loaded), dry_h=hours) == local(shelved)


@pytest.mark.parametrize(
    ("wound", "shelved"),
    [
        ("2026-06-10T20:59", "2026-06-11T09:00"),  # tonight's oven, tomorrow's packing
        ("2026-06-10T21:01", "2026-06-12T09:00"),  # missed tonight's oven
        ("2026-06-12T18:00", "2026-06-15T09:00"),  # Friday evening: dry by Saturday, packed on Monday
        ("2026-06-13T10:00", "2026-06-16T09:00"),  # Saturday: the oven is loaded on Monday evening
    ],
)
def test_shelf_time_waits_for_the_oven_and_the_packing_shift(wound, shelved):
    assert calendar().shelf_at(local(wound), dry_h=8) == local(shelved)


def test_spools_that_need_no_drying_wait_only_for_packing():
    assert calendar().shelf_at(local("2026-06-10T20:00"), dry_h=0) == local("2026-06-11T09:00")


@pytest.mark.parametrize(
    ("shelved", "ship_day"),
    [("2026-06-11T15:00", "2026-06-11"), ("2026-06-11T15:01", "2026-06-12"), ("2026-06-12T16:00", "2026-06-15")],
)
def test_supply_serves_the_first_ship_day_whose_pick_up_it_reaches(shelved, ship_day):
    assert calendar().first_ship_day(local(shelved)) == date.fromisoformat(ship_day)


def test_a_shift_over_the_spring_change_is_an_hour_shorter():
    night = PlantCalendar(
        zone=BERLIN, day_rules={0: WEEKDAY}, shifts={"L1": (Window(5, time(22), time(6)),)}
    )  # Saturday night
    windows = night.working_windows("L1", local("2026-03-28T00:00"), local("2026-03-30T00:00"))
    assert [hi - lo for lo, hi in windows] == [timedelta(hours=7)]


def test_working_windows_leave_out_closed_days_and_clip_to_the_span():
    closed = calendar(closed=(date(2026, 6, 11),))
    windows = closed.working_windows("L1", local("2026-06-10T10:00"), local("2026-06-12T07:00"))
    assert windows == [
        (local("2026-06-10T10:00"), local("2026-06-10T22:00")),
        (local("2026-06-12T06:00"), local("2026-06-12T07:00")),
    ]


def test_adjoining_shifts_merge_into_one_window():
    two = PlantCalendar(
        zone=BERLIN,
        day_rules={0: WEEKDAY},
        shifts={"L1": (Window(2, time(6), time(14)), Window(2, time(14), time(22)))},
    )
    windows = two.working_windows("L1", local("2026-06-10T00:00"), local("2026-06-11T00:00"))
    assert windows == [(local("2026-06-10T06:00"), local("2026-06-10T22:00"))]


def test_crew_windows_carry_their_size():
    crewed = PlantCalendar(zone=BERLIN, day_rules={0: WEEKDAY}, crews=(CrewWindow(2, time(6), time(14), 2),))
    assert crewed.crew_windows(local("2026-06-10T00:00"), local("2026-06-11T00:00")) == [
        (local("2026-06-10T06:00"), local("2026-06-10T14:00"), 2)
    ]


def test_work_goes_on_over_the_night_between_two_shifts():
    working = WorkingTime(tuple(calendar().working_windows("L1", local("2026-06-10T00:00"), local("2026-06-13T00:00"))))
    assert working.add(local("2026-06-10T20:00"), 150) == local("2026-06-11T06:30")
    assert working.add(local("2026-06-10T22:00"), 60) == local("2026-06-11T07:00")
    assert working.add(local("2026-06-12T21:00"), 61) is None
    assert working.minutes_between(local("2026-06-10T21:00"), local("2026-06-11T07:00")) == 120


def test_an_instant_without_a_zone_is_refused():
    with pytest.raises(CalendarError, match="no time zone"):
        calendar().ship_day_of(datetime(2026, 6, 10, 9))  # noqa: DTZ001 - the fault under test


def test_a_calendar_without_ship_days_is_refused():
    with pytest.raises(CalendarError, match="No weekday has a cut-off"):
        PlantCalendar(zone=BERLIN, day_rules={0: DayRule()})


def test_a_day_with_a_cut_off_but_no_pick_up_is_refused():
    with pytest.raises(CalendarError, match="both a cut-off and a pick-up"):
        DayRule(cut_off=time(12))
