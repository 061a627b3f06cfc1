"""The calendar that a process keeps follows every change of the plant at once."""

from __future__ import annotations

from datetime import date, time

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from inventory.errors import NotFoundError
from inventory.models import Closure, PlantParameters, WorkDay
from inventory.selectors.plant import ship_calendar
from tests.inventory.builders import build_tiny_plant, local

pytestmark = pytest.mark.django_db
MONDAY = date(2027, 3, 1)


@pytest.fixture(autouse=True)
def plant(db):
    return build_tiny_plant()


def calendar():
    return ship_calendar(first=MONDAY, last=MONDAY)


def close_monday():
    Closure.objects.create(day=MONDAY, reason="stocktaking")


def test_second_reading_takes_one_query():
    calendar()
    with CaptureQueriesContext(connection) as captured:
        calendar()
    assert len(captured) == 1


def test_closure_that_comes_moves_and_goes_is_followed():
    days = [calendar().is_ship_day(MONDAY)]
    close_monday()
    days.append(calendar().is_ship_day(MONDAY))
    Closure.objects.update(day=date(2027, 3, 2))
    days.append(calendar().is_ship_day(MONDAY))
    Closure.objects.update(day=MONDAY)
    Closure.objects.all().delete()
    days.append(calendar().is_ship_day(MONDAY))
    assert days == [True, False, True, True]


def test_work_day_that_changes_goes_and_comes_is_followed():
    noon, answers = local("2027-03-01 12:00"), [calendar().ship_day_of(local("2027-03-01 12:00"))]
    WorkDay.objects.filter(weekday=0).update(cut_off=time(9))
    answers.append(calendar().ship_day_of(noon))
    WorkDay.objects.filter(weekday=0).delete()
    answers.append(calendar().ship_day_of(noon))
    WorkDay.objects.create(weekday=0, cut_off=time(14), pick_up=time(16))
    answers.append(calendar().ship_day_of(noon))
    assert answers == [MONDAY, date(2027, 3, 2), date(2027, 3, 2), MONDAY]


def test_zone_that_changes_is_followed():
    calendar()
    PlantParameters.objects.update(time_zone="Asia/Tokyo")
    assert str(calendar().zone) == "Asia/Tokyo"


def test_change_that_is_rolled_back_leaves_the_calendar_as_it_was():
    with transaction.atomic():
        close_monday()
        assert not calendar().is_ship_day(MONDAY)
        transaction.set_rollback(True)
    assert calendar().is_ship_day(MONDAY)
    close_monday()
    assert not calendar().is_ship_day(MONDAY)


def test_no_plant_is_said(plant):
    PlantParameters.objects.all().delete()
    with pytest.raises(NotFoundError, match="No plant is loaded"):
        calendar()
