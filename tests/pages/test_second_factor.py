"""The second factor of a log-in: set up, asked for, throttled, taken away.

Codes are computed here by RFC 6238 and RFC 4226 themselves, with the standard library, not by the library in use.
"""

from __future__ import annotations

import hashlib
import hmac
import re
import struct
from base64 import b32decode
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from urllib.parse import parse_qs, unquote, urlparse

import numpy as np
import pytest
import time_machine
import zxingcpp
from django.conf import settings
from django.contrib.admin.models import LogEntry
from django.contrib.auth.models import User
from django.core.management import CommandError, call_command
from django.test import Client
from django_otp.oath import TOTP
from django_otp.plugins.otp_totp.models import TOTPDevice

from stockplan.access.tokens import create_token
from stockplan.paper.symbols import qr_code
from tests.inventory.builders import build_tiny_plant, local
from tests.pages.conftest import PASSWORD

PAGE = "/admin/second-factor/"
NOW = local("2027-03-01 09:00")
LATER = NOW + timedelta(minutes=2)
LogIn = Callable[[str], Client]


def code_at(key: bytes, at: datetime, *, digits: int = 6) -> str:
    """The code of RFC 6238: HMAC-SHA-1 of the number of the 30 s step, truncated dynamically (RFC 4226, 5.3)."""
    mac = hmac.new(key, struct.pack(">Q", int(at.timestamp()) // 30), hashlib.sha1).digest()
    offset = mac[-1] & 0x0F
    number = struct.unpack(">I", mac[offset : offset + 4])[0] & 0x7FFFFFFF
    return f"{number % 10**digits:0{digits}d}"


@pytest.mark.parametrize(
    ("seconds", "code"),
    [(59, "94287082"), (1111111109, "07081804"), (1234567890, "89005924"), (20000000000, "65353130")],
)
def test_codes_are_those_of_the_standard(seconds: int, code: str) -> None:
    """RFC 6238, appendix B, SHA-1: eight digits, secret "12345678901234567890"."""
    key = b"12345678901234567890"
    made = TOTP(key, 30, 0, 8, 0)
    made.time = seconds
    assert f"{made.token():08d}" == code_at(key, datetime.fromtimestamp(seconds, UTC), digits=8) == code


@pytest.fixture
def at_nine(db: None) -> Iterator[None]:
    build_tiny_plant()
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def floor(at_nine: None, person: Callable[[str], User]) -> User:
    """Somebody of the floor who has set up a second factor some time ago."""
    user = person("floor")
    TOTPDevice.objects.create(user=user, name="app", confirmed=True)
    return user


def _key(user: User) -> bytes:
    return bytes(TOTPDevice.objects.get(user=user).bin_key)


def _log_in(user: User, *, password: str = PASSWORD, code: str = "") -> tuple[int, str]:
    answer = Client().post("/admin/login/", {"username": user.username, "password": password, "code": code})
    return answer.status_code, answer.content.decode()


def test_right_password_and_code_let_in(floor: User) -> None:
    assert _log_in(floor, code=code_at(_key(floor), NOW))[0] == 302


def test_code_may_hold_a_blank_as_apps_show_it(floor: User) -> None:
    code = code_at(_key(floor), NOW)
    assert _log_in(floor, code=f"{code[:3]} {code[3:]}")[0] == 302


@pytest.mark.parametrize("code", ["", "000000", "12345", "words", "\u0661" * 6])
def test_password_without_the_code_does_not(floor: User, code: str) -> None:
    assert _log_in(floor, code=code)[0] == 200


def test_answer_does_not_tell_whether_the_password_was_right(floor: User) -> None:
    said = [_log_in(floor)[1], _log_in(floor, password="wrong")[1]]
    token = re.compile(r'name="csrfmiddlewaretoken" value="[^"]*"')
    assert token.sub("", said[0]) == token.sub("", said[1])


def test_code_of_long_ago_does_not_let_in(floor: User) -> None:
    assert _log_in(floor, code=code_at(_key(floor), NOW - timedelta(minutes=2)))[0] == 200


def test_code_lets_in_once(floor: User) -> None:
    code = code_at(_key(floor), NOW)
    assert [_log_in(floor, code=code)[0] for _ in range(2)] == [302, 200]


def test_right_code_straight_after_a_wrong_one_has_to_wait(floor: User) -> None:
    _log_in(floor, code="000000")
    assert _log_in(floor, code=code_at(_key(floor), NOW))[0] == 200
    with time_machine.travel(LATER, tick=False):
        assert _log_in(floor, code=code_at(_key(floor), LATER))[0] == 302


def test_guessed_codes_lock_as_guessed_passwords_do(floor: User) -> None:
    for _ in range(settings.AXES_FAILURE_LIMIT):
        status, _text = _log_in(floor, code="000000")
    assert (status, _log_in(floor, code=code_at(_key(floor), NOW))[0]) == (429, 429)


def test_who_has_none_logs_in_by_the_password(at_nine: None, person: Callable[[str], User]) -> None:
    assert _log_in(person("sales"))[0] == 302


def test_app_is_set_up_by_password_code_and_first_digits(at_nine: None, logged_in: LogIn) -> None:
    client = logged_in("floor")
    user = User.objects.get(username="floor-person")
    text = client.post(f"{PAGE}begin/", {"password": PASSWORD}, follow=True).content.decode()
    secret = re.search(r'class="secret">([A-Z2-7]+)<', text)
    assert secret is not None
    assert b32decode(secret[1]) == _key(user)
    # Not asked for before the app has shown that it works.
    assert _log_in(user)[0] == 302
    text = client.post(f"{PAGE}confirm/", {"code": code_at(_key(user), NOW)}, follow=True).content.decode()
    assert "From now on the log-in asks" in text
    assert secret[1] not in text
    assert _log_in(user)[0] == 200
    assert LogEntry.objects.get().change_message == "Second factor turned on."


def test_code_on_the_page_is_read_by_a_scanner(at_nine: None, logged_in: LogIn) -> None:
    logged_in("floor").post(f"{PAGE}begin/", {"password": PASSWORD})
    device = TOTPDevice.objects.get()
    picture = np.pad(np.where(qr_code(device.config_url), 0, 255).astype(np.uint8), 4, constant_values=255)
    (read,) = zxingcpp.read_barcodes(np.kron(picture, np.ones((4, 4), np.uint8)))
    uri = urlparse(read.text)
    assert (uri.scheme, uri.netloc, unquote(uri.path)) == ("otpauth", "totp", "/stockplan:floor-person")
    query = parse_qs(uri.query)
    assert b32decode(query["secret"][0]) == bytes(device.bin_key)
    assert (query["digits"], query["period"], query["issuer"]) == (["6"], ["30"], ["stockplan"])


def test_page_draws_the_modules_of_the_code(at_nine: None, logged_in: LogIn) -> None:
    client = logged_in("floor")
    text = client.post(f"{PAGE}begin/", {"password": PASSWORD}, follow=True).content.decode()
    drawn = re.findall(r"M(\d+) (\d+)h1v1h-1z", text)
    modules = qr_code(TOTPDevice.objects.get().config_url)
    assert {(int(y), int(x)) for x, y in drawn} == {(int(y), int(x)) for y, x in np.argwhere(modules)}


def test_secret_is_in_no_cache(at_nine: None, logged_in: LogIn) -> None:
    assert "no-store" in logged_in("floor").get(PAGE).headers["Cache-Control"]


@pytest.mark.parametrize(("step", "typed"), [("begin", {"password": "wrong"}), ("confirm", {"code": "000000"})])
def test_wrong_password_or_code_sets_nothing_up(
    at_nine: None, logged_in: LogIn, step: str, typed: dict[str, str]
) -> None:
    assert logged_in("floor").post(f"{PAGE}{step}/", typed).status_code == 422
    assert not TOTPDevice.objects.filter(confirmed=True).exists()


def test_app_in_use_is_not_replaced_by_beginning_again(floor: User) -> None:
    client, key = Client(), _key(floor)
    client.force_login(floor, backend="django.contrib.auth.backends.ModelBackend")
    client.post(f"{PAGE}begin/", {"password": PASSWORD})
    assert _key(floor) == key


def test_own_second_factor_is_turned_off_by_its_code(floor: User) -> None:
    client = Client()
    client.force_login(floor, backend="django.contrib.auth.backends.ModelBackend")
    assert client.post(f"{PAGE}remove/", {"code": "000000"}).status_code == 422
    with time_machine.travel(LATER, tick=False):
        client.post(f"{PAGE}remove/", {"code": code_at(_key(floor), LATER)})
        assert _log_in(floor)[0] == 302


def test_administrator_takes_it_off_and_never_sees_the_secret(floor: User) -> None:
    admin, device = Client(), TOTPDevice.objects.get()
    admin.force_login(User.objects.create_superuser("admin"), backend="django.contrib.auth.backends.ModelBackend")
    pages = ("/admin/otp_totp/totpdevice/", f"/admin/otp_totp/totpdevice/{device.pk}/change/")
    assert all(device.key not in admin.get(path).content.decode() for path in pages)
    admin.post(f"/admin/otp_totp/totpdevice/{device.pk}/delete/", {"post": "yes"})
    assert _log_in(floor)[0] == 302


def test_command_takes_it_off_and_says_whom_it_does_not_know(floor: User, capsys: pytest.CaptureFixture[str]) -> None:
    call_command("remove_second_factor", "floor-person")
    assert (capsys.readouterr().out, _log_in(floor)[0]) == (
        "floor-person logs in by the password alone from now on.\n", 302
    )  # fmt: skip
    with pytest.raises(CommandError, match="has no second factor"):
        call_command("remove_second_factor", "floor-person")
    with pytest.raises(CommandError, match="nobody called 'nobody'"):
        call_command("remove_second_factor", "nobody")


def test_stranger_is_sent_to_the_log_in(at_nine: None) -> None:
    answers = [Client().get(PAGE), *(Client().post(f"{PAGE}{step}/") for step in ("begin", "confirm", "remove"))]
    assert {answer.status_code for answer in answers} == {302}


def test_owner_sees_when_a_token_was_used_and_ends_it(at_nine: None, logged_in: LogIn) -> None:
    token = create_token(name="shop", scopes=["stock:read"], channel_code=None, days=1)
    assert Client(headers={"authorization": f"Bearer {token}"}).get("/api/v1/stock/").status_code == 200
    owner = logged_in("owner")
    text = owner.get("/admin/access/apitoken/").content.decode()
    assert "1 Mar 2027 09:00" in re.sub(r"\s+", " ", text)
    assert token not in text
    pk = re.search(r"/admin/access/apitoken/([^/]+)/change/", text)
    assert pk is not None
    owner.post(f"/admin/access/apitoken/{pk[1]}/delete/", {"post": "yes"})
    assert Client(headers={"authorization": f"Bearer {token}"}).get("/api/v1/stock/").status_code == 401
