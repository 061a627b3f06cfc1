"""What every answer tells a browser, and what the session's cookie is (RFC 6265bis; OWASP ASVS 4.0.3, 3.4 and 14.4)."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.conf import settings
from django.contrib.auth.models import User
from django.contrib.sessions.models import Session
from django.test import Client

from stockplan.access.tokens import create_token
from tests.inventory.builders import local
from tests.pages.conftest import PASSWORD
from tests.pages.shown_plant import ShownPlant

NOW = local("2027-03-01 09:00")
SECRET = "".join(chr(97 + number % 26) for number in range(60))
PRINT = (
    "import json, django; django.setup(); from django.conf import settings; "
    "print(json.dumps({name: getattr(settings, name) for name in %r}))"
)
COOKIES = (
    "SESSION_COOKIE_NAME", "SESSION_COOKIE_SECURE", "SESSION_COOKIE_HTTPONLY", "SESSION_COOKIE_SAMESITE",
    "CSRF_COOKIE_NAME", "CSRF_COOKIE_SECURE", "CSRF_COOKIE_SAMESITE", "SECURE_SSL_REDIRECT", "SECURE_HSTS_SECONDS",
)  # fmt: skip


def deployed(**made: str) -> dict[str, Any]:
    """The settings of a process that is started with these variables."""
    plain = {"STOCKPLAN_DEBUG": "0", "STOCKPLAN_SECRET_KEY": SECRET, "DJANGO_SETTINGS_MODULE": "stockplan.settings"}
    command = [sys.executable, "-c", PRINT % (COOKIES,)]
    said = subprocess.run(
        command, cwd=settings.BASE_DIR, env=os.environ | plain | made, capture_output=True, text=True, check=True
    )
    found: dict[str, Any] = json.loads(said.stdout)
    return found


@pytest.fixture
def session(person: Callable[[str], User]) -> Client:
    """A browser in which somebody has logged in through the form."""
    client = Client()
    with time_machine.travel(NOW, tick=False):
        client.post("/admin/login/", {"username": person("floor").username, "password": PASSWORD})
    return client


@pytest.mark.parametrize("path", ["/admin/login/", "/api/v1/stock/", "/admin/nothing/", "/api/v1/docs/"])
def test_every_answer_bars_framing_sniffing_and_foreign_scripts(db: None, client: Client, path: str) -> None:
    headers = client.get(path).headers
    policy = dict(part.strip().partition(" ")[::2] for part in headers["Content-Security-Policy"].split(";"))
    assert policy["default-src"] == policy["form-action"] == "'self'"
    assert policy["object-src"] == policy["frame-ancestors"] == policy["base-uri"] == "'none'"
    assert "unsafe" not in headers["Content-Security-Policy"]
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["X-Frame-Options"] == "DENY"
    assert headers["Referrer-Policy"] == "same-origin"
    assert headers["Cross-Origin-Opener-Policy"] == "same-origin"


def test_behind_tls_cookies_stay_on_this_host_and_on_tls() -> None:
    found = deployed(STOCKPLAN_HTTPS="1", STOCKPLAN_HSTS_SECONDS="31536000")
    assert found["SESSION_COOKIE_NAME"].startswith("__Host-")
    assert found["CSRF_COOKIE_NAME"].startswith("__Host-")
    assert found["SESSION_COOKIE_SECURE"] is found["CSRF_COOKIE_SECURE"] is found["SECURE_SSL_REDIRECT"] is True
    assert (found["SESSION_COOKIE_HTTPONLY"], found["SESSION_COOKIE_SAMESITE"]) == (True, "Lax")
    assert found["SECURE_HSTS_SECONDS"] == 31536000


@pytest.mark.parametrize("secret", ["", " "])
def test_server_does_not_start_without_a_secret(secret: str) -> None:
    with pytest.raises(subprocess.CalledProcessError) as failed:
        deployed(STOCKPLAN_SECRET_KEY=secret)
    assert "STOCKPLAN_SECRET_KEY" in failed.value.stderr


def test_session_ends_at_log_out(session: Client) -> None:
    old = session.cookies[settings.SESSION_COOKIE_NAME].value
    with time_machine.travel(NOW, tick=False):
        session.post("/admin/logout/")
    thief = Client()
    thief.cookies[settings.SESSION_COOKIE_NAME] = old
    assert thief.get("/admin/").status_code == 302


def test_session_ends_twelve_hours_after_the_log_in(session: Client) -> None:
    with time_machine.travel(NOW + timedelta(hours=11, minutes=59), tick=False):
        assert session.get("/admin/").status_code == 200
    with time_machine.travel(NOW + timedelta(hours=12, seconds=1), tick=False):
        assert session.get("/admin/").status_code == 302


@pytest.fixture
def at_a_desk(person: Callable[[str], User]) -> Client:
    client = Client()
    with time_machine.travel(NOW, tick=False):
        client.post("/admin/login/", {"username": person("sales").username, "password": PASSWORD})
    return client


def asked(client: Client, *, minutes: float) -> int:
    """The status of a page that is asked for so long after the log-in."""
    with time_machine.travel(NOW + timedelta(minutes=minutes), tick=False):
        return client.get("/admin/").status_code


def test_session_at_a_desk_ends_half_an_hour_after_the_last_request(at_a_desk: Client) -> None:
    assert [asked(at_a_desk, minutes=minutes) for minutes in (29, 58, 89)] == [200, 200, 302]


def test_session_that_is_used_ends_twelve_hours_after_the_log_in(at_a_desk: Client) -> None:
    used = [asked(at_a_desk, minutes=minutes) for minutes in range(0, 12 * 60, 20)]
    assert (set(used), asked(at_a_desk, minutes=12 * 60 + 0.1)) == ({200}, 302)


def test_session_is_written_at_most_once_a_minute(at_a_desk: Client) -> None:
    asked(at_a_desk, minutes=5)
    before = Session.objects.get().session_data
    asked(at_a_desk, minutes=5.9)
    assert Session.objects.get().session_data == before
    asked(at_a_desk, minutes=6)
    assert Session.objects.get().session_data != before


def test_call_with_a_token_touches_no_session(db: None, client: Client) -> None:
    token = create_token(name="shop", scopes=["stock:read"], channel_code=None, days=1)
    answer = client.get("/api/v1/skus/", headers={"authorization": f"Bearer {token}"})
    assert (answer.status_code, "Cookie" in answer.headers.get("Vary", "")) == (200, False)
    assert Session.objects.count() == 0


def test_session_has_another_name_after_the_log_in(person: Callable[[str], User], client: Client) -> None:
    """Session fixation, CWE-384."""
    user = person("sales")
    client.cookies[settings.SESSION_COOKIE_NAME] = "a" * 32
    client.post("/admin/login/", {"username": user.username, "password": PASSWORD})
    assert client.cookies[settings.SESSION_COOKIE_NAME].value != "a" * 32


def test_changed_password_ends_the_other_sessions(session: Client) -> None:
    user = User.objects.get(username="floor-person")
    user.set_password("another-long-password")
    user.save()
    with time_machine.travel(NOW + timedelta(minutes=1), tick=False):
        assert session.get("/admin/").status_code == 302


def test_password_of_128_letters_is_taken(session: Client) -> None:
    typed = {"old_password": PASSWORD, "new_password1": "long wörds " * 11 + "longer!", "new_password2": ""}
    typed["new_password2"] = typed["new_password1"]
    assert len(typed["new_password1"]) == 128
    with time_machine.travel(NOW + timedelta(minutes=1), tick=False):
        assert session.post("/admin/password_change/", typed).status_code == 302


@pytest.mark.parametrize("password", ["short-12345", "administrator", "long wörds " * 11 + "longest!"])
def test_password_that_is_weak_or_of_more_than_128_letters_is_refused(session: Client, password: str) -> None:
    typed = {"old_password": PASSWORD, "new_password1": password, "new_password2": password}
    with time_machine.travel(NOW + timedelta(minutes=1), tick=False):
        assert session.post("/admin/password_change/", typed).status_code == 200


def test_password_is_kept_as_argon2(person: Callable[[str], User]) -> None:
    assert person("owner").password.startswith("argon2$argon2id$")


@pytest.mark.parametrize("path", ["/admin/", "/admin/stock/", "/admin/due/", "/admin/trace/", "/admin/inventory/lot/"])
def test_page_is_in_no_cache(shown: ShownPlant, logged_in: Callable[[str], Client], path: str) -> None:
    assert "no-store" in logged_in("owner").get(path).headers["Cache-Control"]


@pytest.mark.parametrize("target", ["https://example.org/", "//example.org/", "javascript:x()", "/\\example.org/"])
def test_log_in_leads_to_no_other_site(person: Callable[[str], User], client: Client, target: str) -> None:
    """Open redirect, CWE-601."""
    typed = {"username": person("sales").username, "password": PASSWORD, "next": target}
    answer = client.post("/admin/login/", typed)
    assert (answer.status_code, answer["Location"].startswith("/admin/")) == (302, True)
