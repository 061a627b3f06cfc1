"""Compute a make list and store it. Reading it back is a matter of `selectors.make_lists`."""

from __future__ import annotations

import hashlib
import time
from collections.abc import Callable, Sequence
from dataclasses import fields, replace
from datetime import UTC, datetime

from django.contrib.auth.models import AbstractBaseUser
from django.db import transaction

from inventory.rules.clock import Clock
from inventory.services.keeping import end_past_kept
from stockplan.planner.core.explained import Explanation, explanations
from stockplan.planner.core.facts import PlanFacts
from stockplan.planner.core.planning import Plan, make_plan
from stockplan.planner.errors import PlanningError
from stockplan.planner.models import ForecastRun, MakeList
from stockplan.planner.selectors.facts import calendar_around
from stockplan.planner.services.code_version import code_version
from stockplan.planner.services.forecasts import compute_forecast
from stockplan.planner.services.list_rows import store_rows

__all__ = ["WeekError", "compute_make_list"]

Progress = Callable[[str, float], None]
DEFAULT_DAYS = 10


class WeekError(PlanningError):
    """The week is not written as 2027-W08, or is over."""

    code = "week"


def compute_make_list(
    *,
    as_of: datetime,
    now: datetime,
    days: int | None = None,
    week: str | None = None,
    created_by: AbstractBaseUser | None = None,
    progress: Progress | None = None,
) -> MakeList:
    """Compute the ranked list of runs from an instant on and store it in one transaction.

    A list as of now first gives back the spools whose keeping for a customer is over, so that it can plan with them.

    Parameters
    ----------
    days
        Ship days that the list covers; 10 where neither days nor week are given.
    week
        ISO week `2027-W08`: the list covers the ship days up to its end.
    progress
        Called with a stage and the share of it that is done.

    Raises
    ------
    ListDaysError, WeekError
        If the days or the week cannot be.
    """
    if as_of == now:
        end_past_kept(clock=Clock.at(now))
    began = time.perf_counter()
    tell = progress or _silent
    count = days_of(as_of=as_of, days=days, week=week)
    tell("forecast", 0.0)
    forecast = compute_forecast(as_of=as_of, now=now, days=count)
    tell("forecast", 1.0)
    facts = forecast.facts()
    end_min = max((facts.last_day - facts.first_day).days + 1, 1) * 24 * 60
    plan = make_plan(facts, tick=lambda minute: tell("make list", min(minute / end_min, 1.0)))
    explained = tuple(explanations(plan))
    tell("make list", 1.0)
    seconds = time.perf_counter() - began
    return _store(plan, explained, forecast.run, now=now, created_by=created_by, seconds=seconds)


def days_of(*, as_of: datetime, days: int | None, week: str | None) -> int:
    """Return how many ship days a list covers, from days or from an ISO week.

    Raises
    ------
    WeekError
        If both are given, the week is not written as 2027-W08, or it has no ship day left.
    """
    if week is None:
        return DEFAULT_DAYS if days is None else days
    if days is not None:
        raise WeekError("Give either days or a week, not both.", pointer="/week")
    try:
        sunday = datetime.strptime(f"{week}-7", "%G-W%V-%u").date()  # noqa: DTZ007  # a calendar day, no instant
    except ValueError as error:
        raise WeekError("Write an ISO week as 2027-W08, got {week!r}.", week=week, pointer="/week") from error
    calendar = calendar_around(as_of)
    count = len(calendar.ship_days(calendar.first_ship_day(as_of), sunday))
    if not count:
        raise WeekError(
            "Week {week} has no ship day left as of {as_of:%Y-%m-%d %H:%M}.", week=week, as_of=as_of, pointer="/week"
        )
    return count


@transaction.atomic
def _store(
    plan: Plan,
    explained: Sequence[Explanation],
    forecast_run: ForecastRun,
    *,
    now: datetime,
    created_by: AbstractBaseUser | None,
    seconds: float,
) -> MakeList:
    facts = plan.plant.facts
    make_list = MakeList.objects.create(
        forecast_run=forecast_run,
        as_of=facts.as_of,
        created_at=now,
        created_by_id=None if created_by is None else created_by.pk,
        first_day=facts.first_day,
        last_day=facts.last_day,
        parameters={field.name: getattr(facts.parameters, field.name) for field in fields(facts.parameters)},
        data_digest=facts_digest(facts),
        code_version=code_version(),
        assumptions=list(plan.assumptions),
        misses_without=plan.misses_without,
        misses_with=plan.misses_with,
        misses_on_its_days=plan.limits.missed,
        limit=plan.limit,
        hours_short_per_week=plan.outlook.hours_short_per_week,
        compute_seconds=seconds,
    )
    store_rows(make_list, plan, explained)
    return make_list


def facts_digest(facts: PlanFacts) -> str:
    """Return the SHA-256 of everything that a list depends on."""
    # An instant is the same in any zone: a list of 06:30 in Vienna is read back as of 05:30 UTC.
    ordered = replace(facts.in_order(), as_of=facts.as_of.astimezone(UTC))
    calendar = ordered.calendar
    parts = [repr(getattr(ordered, field.name)) for field in fields(ordered) if field.name != "calendar"]
    # Sets and mappings of the calendar have no order of their own.
    parts += [str(calendar.zone), repr(sorted(calendar.closed_days)), repr(sorted(calendar.day_rules.items()))]
    parts += [repr(sorted(calendar.shifts.items())), repr(calendar.crews)]
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()


def _silent(stage: str, share: float) -> None:
    """Show no progress."""
