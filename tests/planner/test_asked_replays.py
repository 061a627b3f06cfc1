"""Replays that somebody asks for on the page: one at a time, carried out elsewhere, never lost from sight."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
from django.contrib.auth.models import User
from django.core.management import CommandError, call_command
from django.db import transaction

from forecasting.messages import message
from stockplan.planner.models import AskedReplay, StoredReplay
from stockplan.planner.selectors.stored_replays import newest_asked, past_replays
from stockplan.planner.services import asked_replays
from stockplan.planner.services.asked_replays import LONGEST, SILENT_AFTER, AskedReplayError, ask_replay, carry_out
from stockplan.planner.services.replay import StretchError
from stockplan.planner.services.replays import ReplayQuestion
from tests.constraints import refused
from tests.inventory.builders import TinyPlant, local
from tests.planner.conftest import order

NOW = local("2027-06-01 08:00")
QUESTION = ReplayQuestion(date(2027, 3, 15), date(2027, 3, 19))
Started = list[int]
Ask = Callable[..., AskedReplay]


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> Started:
    """Which replays a process was started for; none is."""
    numbers: Started = []
    monkeypatch.setattr(asked_replays, "start_process", numbers.append)
    return numbers


@pytest.fixture
def ask(plant: TinyPlant, started: Started, django_capture_on_commit_callbacks: Callable[..., object]) -> Ask:
    person = User.objects.create_user("planner")

    def asked(question: ReplayQuestion = QUESTION, *, now: datetime = NOW) -> AskedReplay:
        with django_capture_on_commit_callbacks(execute=True):  # type: ignore[attr-defined]
            return ask_replay(question, now=now, by=person)

    return asked


def test_process_is_started_once_the_question_is_committed(ask: Ask, started: Started) -> None:
    asked = ask()
    assert started == [asked.pk]
    assert newest_asked(NOW).is_under_way  # type: ignore[union-attr]


def test_question_that_is_rolled_back_starts_nothing(ask: Ask, started: Started) -> None:
    with transaction.atomic():
        ask_replay(QUESTION, now=NOW, by=User.objects.get())
        transaction.set_rollback(True)
    assert started == []
    assert not AskedReplay.objects.exists()


def test_carried_out_replay_is_kept_and_its_progress_written_down(ask: Ask) -> None:
    for n in range(25):
        order(f"DAY-{n}", [("PLA-BLACK-1000", 2)], at=f"{date(2027, 2, 22) + timedelta(days=n)} 08:00")
    asked = ask()
    carry_out(asked.pk, clock=lambda: NOW)
    progress = newest_asked(NOW)
    assert progress is not None
    assert (progress.days_done, progress.days_in_all, progress.has_ended, progress.failure) == (5, 5, True, None)
    (kept,) = past_replays()
    assert (kept.policy, kept.first_day, kept.last_day) == ("make-list", QUESTION.first_day, QUESTION.last_day)
    # One each from Monday to Thursday, and those of the weekend, due on Monday.
    assert kept.rows[-1].totals.orders.due == 6
    assert str(kept.conditions[0]) == "Policy: the make list as the service computes it, order-up-to levels x 1."


def test_progress_of_a_curve_counts_every_level(ask: Ask) -> None:
    asked = ask(ReplayQuestion(date(2027, 3, 15), date(2027, 3, 16), policy="reorder-point", is_curve=True))
    carry_out(asked.pk, clock=lambda: NOW)
    asked.refresh_from_db()
    # Two ship days, nine levels of the best of six settings.
    assert (asked.days_done, asked.days_in_all) == (30, 30)


def test_second_replay_waits_for_the_first(ask: Ask, started: Started) -> None:
    first = ask()
    with pytest.raises(AskedReplayError, match="A replay is under way"):
        ask()
    assert started == [first.pk]
    carry_out(first.pk, clock=lambda: NOW)
    assert ask().pk != first.pk


def test_replay_not_heard_of_for_long_has_ended_and_makes_way(ask: Ask) -> None:
    first = ask()
    later = NOW + SILENT_AFTER + timedelta(seconds=1)
    assert newest_asked(later).is_silent  # type: ignore[union-attr]
    ask(now=later)
    first.refresh_from_db()
    assert (first.ended_at, str(first.failure)) == (later, "Its process ended before it was done.")


def test_replay_that_breaks_off_says_so_and_keeps_no_half(ask: Ask, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError

    asked = ask()
    monkeypatch.setattr(asked_replays, "replay_as_asked", broken)
    with pytest.raises(ZeroDivisionError):
        carry_out(asked.pk, clock=lambda: NOW)
    asked.refresh_from_db()
    assert asked.failure == message("It broke off; the log of the service says why.")
    assert not StoredReplay.objects.exists()


def test_replay_that_is_refused_keeps_why_for_every_language(ask: Ask, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused_one(*_: object, **__: object) -> None:
        raise StretchError("There is no list on {day}.", day=date(2027, 3, 15))

    asked = ask()
    monkeypatch.setattr(asked_replays, "replay_as_asked", refused_one)
    with pytest.raises(StretchError):
        carry_out(asked.pk, clock=lambda: NOW)
    asked.refresh_from_db()
    assert asked.failure == message("There is no list on {day}.", day="2027-03-15")


def test_replay_is_carried_out_once(ask: Ask) -> None:
    asked = ask()
    carry_out(asked.pk, clock=lambda: NOW)
    with pytest.raises(AskedReplayError, match=f"no replay {asked.pk} to carry out"):
        carry_out(asked.pk, clock=lambda: NOW)


@pytest.mark.clean_error_of("askedreplay_days_ordered")
def test_days_that_cannot_be_are_refused_before_anything_is_written(ask: Ask) -> None:
    for question, words in (
        (ReplayQuestion(date(2027, 3, 16), date(2027, 3, 15)), "before the first"),
        (ReplayQuestion(date(2027, 5, 20), date(2027, 6, 1)), "not over yet"),
        (ReplayQuestion(date(2027, 3, 13), date(2027, 3, 14)), "No parcels leave"),
    ):
        with pytest.raises(StretchError, match=words):
            ask(question)
    with pytest.raises(AskedReplayError, match="At most 92 days"):
        ask(ReplayQuestion(QUESTION.first_day, QUESTION.first_day + LONGEST + timedelta(days=1)))
    with pytest.raises(AskedReplayError, match="no policy 'guess'"):
        ask(ReplayQuestion(QUESTION.first_day, QUESTION.last_day, policy="guess"))
    assert not AskedReplay.objects.exists()


@pytest.mark.clean_error_of("askedreplay_one_under_way")
def test_service_says_that_one_is_under_way(ask: Ask) -> None:
    ask()
    with pytest.raises(AskedReplayError):
        ask()


@pytest.mark.clean_error_of("askedreplay_done_within_all", "askedreplay_fails_when_it_ends")
def test_service_writes_progress_in_order(ask: Ask) -> None:
    asked = ask()
    carry_out(asked.pk, clock=lambda: NOW)
    asked.refresh_from_db()
    assert asked.days_done <= asked.days_in_all
    assert asked.ended_at == NOW


@pytest.mark.refused_by_database("askedreplay_days_ordered")
def test_database_refuses_days_out_of_order(ask: Ask) -> None:
    ask()
    with refused("askedreplay_days_ordered"):
        AskedReplay.objects.update(last_day=date(2027, 1, 1))


@pytest.mark.refused_by_database("askedreplay_done_within_all")
def test_database_refuses_more_days_than_there_are(ask: Ask) -> None:
    ask()
    with refused("askedreplay_done_within_all"):
        AskedReplay.objects.update(days_done=3, days_in_all=2)


@pytest.mark.refused_by_database("askedreplay_fails_when_it_ends")
def test_database_refuses_a_failure_of_what_goes_on(ask: Ask) -> None:
    ask()
    with refused("askedreplay_fails_when_it_ends"):
        AskedReplay.objects.update(failure=message("why"))


@pytest.mark.refused_by_database("askedreplay_one_under_way")
def test_database_refuses_two_under_way(ask: Ask) -> None:
    asked = ask()
    asked.pk = None
    with refused("askedreplay_one_under_way"):
        asked.save(force_insert=True)


@pytest.mark.django_db
def test_command_refuses_what_nobody_asked_for() -> None:
    with pytest.raises(CommandError, match="no replay 7 to carry out"):
        call_command("carry_out_replay", "7")


def test_process_that_the_page_starts_is_this_command(tmp_path: Path) -> None:
    """The command line as the page starts it, on a database without tables: it gets as far as asking for the row."""
    there = {**os.environ, "DATABASE_URL": f"sqlite:///{tmp_path / 'empty.sqlite3'}", "STOCKPLAN_DEBUG": "1"}
    ended = subprocess.run(asked_replays.command_of(7), env=there, capture_output=True, text=True, check=False)
    assert ended.returncode != 0
    assert "no such table: planner_askedreplay" in ended.stderr
