"""Replays that somebody asked for on a page: a process of their own carries them out, one at a time."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from datetime import datetime, timedelta
from functools import partial

from django.conf import settings
from django.contrib.auth.models import AbstractBaseUser
from django.db import IntegrityError, transaction

from forecasting.messages import Message, message
from inventory.errors import BooksError
from stockplan.planner.errors import PlanningError
from stockplan.planner.models import AskedReplay
from stockplan.planner.services.replay import check_stretch
from stockplan.planner.services.replays import POLICIES, ReplayQuestion, replay_as_asked, store_replay
from stockplan.planner.wording import kept

# The first forecast of a large plant takes minutes; after that every day is heard of.
SILENT_AFTER = timedelta(minutes=15)

LONGEST = timedelta(days=92)


class AskedReplayError(PlanningError):
    """The replay cannot be asked for, or is not there to be carried out."""

    code = "asked_replay"


def ask_replay(question: ReplayQuestion, *, now: datetime, by: AbstractBaseUser) -> AskedReplay:
    """Write down that the days shall be replayed, and start the process that does it once this is committed.

    Raises
    ------
    StretchError
        If the days cannot be replayed.
    AskedReplayError
        If another replay is under way, there is no such policy, or the days are too many.
    """
    if question.policy not in POLICIES:
        raise AskedReplayError("There is no policy {policy!r}.", policy=question.policy, pointer="/policy")
    if question.last_day - question.first_day > LONGEST:
        raise AskedReplayError("At most {days} days are replayed at once.", days=LONGEST.days, pointer="/last_day")
    check_stretch(first_day=question.first_day, last_day=question.last_day, now=now)
    AskedReplay.objects.filter(ended_at=None, seen_at__lt=now - SILENT_AFTER).update(
        ended_at=now, failure=message("Its process ended before it was done.")
    )
    try:
        with transaction.atomic():
            asked = AskedReplay.objects.create(
                policy=question.policy,
                is_curve=question.is_curve,
                first_day=question.first_day,
                last_day=question.last_day,
                asked_at=now,
                seen_at=now,
                asked_by_id=by.pk,
            )
    except IntegrityError as error:
        if "askedreplay_one_under_way" not in str(error):
            raise
        raise AskedReplayError("A replay is under way; the next can begin when it is done.") from error
    transaction.on_commit(partial(start_process, asked.pk))
    return asked


def command_of(asked_id: int) -> list[str]:
    """Return the command that carries a replay out."""
    return [sys.executable, str(settings.BASE_DIR / "manage.py"), "carry_out_replay", str(asked_id)]


def start_process(asked_id: int) -> None:
    """Start carrying a replay out, in a process that outlives the request and the worker that answers it."""
    quiet = subprocess.DEVNULL
    subprocess.Popen(command_of(asked_id), stdin=quiet, stdout=quiet, start_new_session=True)


def carry_out(asked_id: int, *, clock: Callable[[], datetime]) -> AskedReplay:
    """Replay the days, writing down how far it is, and keep what they came to.

    Parameters
    ----------
    clock
        Returns the present instant; it is asked after every day.

    Raises
    ------
    AskedReplayError
        If nobody asked for it, or it has ended.
    PlanningError, BooksError
        If the days cannot be replayed; that is written down for the page as well.
    """
    asked = AskedReplay.objects.filter(pk=asked_id, ended_at=None).first()
    if asked is None:
        raise AskedReplayError("There is no replay {asked_id} to carry out.", asked_id=asked_id)
    question = ReplayQuestion(asked.first_day, asked.last_day, asked.policy, asked.is_curve)

    def progress(done: int, in_all: int) -> None:
        AskedReplay.objects.filter(pk=asked_id, ended_at=None).update(
            days_done=done, days_in_all=in_all, seen_at=clock()
        )

    try:
        replayed = replay_as_asked(question, now=clock(), progress=progress)
    except (PlanningError, BooksError) as error:
        _end(asked, at=clock(), failure=kept(error))
        raise
    except BaseException:
        _end(asked, at=clock(), failure=message("It broke off; the log of the service says why."))
        raise
    with transaction.atomic():
        store_replay(
            policy=asked.policy,
            is_curve=asked.is_curve,
            conditions=replayed.conditions,
            rows=replayed.rows,
            now=clock(),
        )
        _end(asked, at=clock(), failure=None)
    return asked


def _end(asked: AskedReplay, *, at: datetime, failure: Message | None) -> None:
    asked.ended_at, asked.failure = at, failure
    asked.save(update_fields=["ended_at", "failure"])
