"""Who guesses passwords is locked out for a while, and a deployment by the book passes Django's own checks."""

from __future__ import annotations

import os
import subprocess
import sys
from datetime import timedelta

import pytest
import time_machine
from django.conf import settings
from django.contrib.auth.models import User
from django.test import Client

from tests.inventory.builders import local

LOG_IN = "/admin/login/"
PASSWORD = "spools-dry-overnight"
NOW = local("2026-11-02 09:00")


@pytest.fixture
def people(db: None) -> None:
    for name in ("ada", "ben"):
        User.objects.create_user(username=name, password=PASSWORD, is_staff=True)


def log_in(name: str, password: str = PASSWORD, address: str = "192.0.2.1") -> int:
    """The status of the answer: 302 lets in, 200 shows the form again."""
    answer = Client().post(LOG_IN, {"username": name, "password": password}, REMOTE_ADDR=address)
    return answer.status_code


@pytest.fixture
def guessed(people: None) -> None:
    """Somebody has guessed the password of one person until it was enough."""
    with time_machine.travel(NOW, tick=False):
        for number in range(settings.AXES_FAILURE_LIMIT):
            log_in("ada", f"guess {number}")


def test_right_password_lets_in(people):
    assert (log_in("ada"), log_in("ada", "wrong")) == (302, 200)


def test_who_guessed_too_often_is_locked_out_with_the_right_password_too(guessed):
    with time_machine.travel(NOW + timedelta(minutes=1), tick=False):
        assert log_in("ada") == 429


def test_lock_holds_neither_for_other_people_nor_for_other_addresses(guessed):
    with time_machine.travel(NOW + timedelta(minutes=1), tick=False):
        assert (log_in("ben"), log_in("ada", address="192.0.2.2")) == (302, 302)


def test_lock_ends_after_its_time(guessed):
    with time_machine.travel(NOW + settings.AXES_COOLOFF_TIME + timedelta(seconds=1), tick=False):
        assert log_in("ada") == 302


def test_deployment_with_every_setting_made_passes_the_checks():
    """Django documentation, deployment checklist: `manage.py check --deploy`."""
    secret = "".join(chr(97 + number % 26) for number in range(60))
    made = {"STOCKPLAN_DEBUG": "0", "STOCKPLAN_SECRET_KEY": secret, "STOCKPLAN_HTTPS": "1"}
    made |= {"STOCKPLAN_HSTS_SECONDS": "31536000", "STOCKPLAN_HSTS_SUBDOMAINS": "1"}
    command = [sys.executable, "manage.py", "check", "--deploy", "--fail-level", "INFO"]
    checked = subprocess.run(
        command, cwd=settings.BASE_DIR, env=os.environ | made, capture_output=True, text=True, check=False
    )
    assert (checked.returncode, checked.stderr) == (0, "")
