"""What a deprecated version says of itself. Forms of the headers: RFC 9745, 2.1; RFC 8594, 3; RFC 9110, 5.6.7."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime

import pytest
import time_machine
from django.conf import settings
from drf_spectacular.generators import SchemaGenerator

from stockplan.api_versions import CURRENT, LEAST_NOTICE, VERSIONS, EndOfVersion

GUIDE = "https://stock.example.org/changes"
# The example of RFC 9745, 2.1: Friday, June 30, 2023 at 23:59:59 UTC.
DEPRECATED = datetime(2023, 6, 30, 23, 59, 59, tzinfo=UTC)
SUNSET = datetime(2027, 6, 30, 23, 59, 59, tzinfo=UTC)


@pytest.fixture
def ending(monkeypatch: pytest.MonkeyPatch) -> None:
    """The present version as it will be when it has an end."""
    monkeypatch.setitem(VERSIONS, CURRENT, EndOfVersion(DEPRECATED, SUNSET, GUIDE))  # type: ignore[arg-type]


def test_version_that_stays_says_nothing(plant, live):
    answer = live.get("/api/v1/stock/")
    assert {"Deprecation", "Sunset", "Link"}.isdisjoint(answer.headers)


def test_answer_of_a_version_with_an_end_says_since_when_and_until_when(plant, live, ending):
    answer = live.get("/api/v1/stock/")
    assert answer.status_code == 200
    assert answer.headers["Deprecation"] == "@1688169599"
    assert answer.headers["Sunset"] == "Wed, 30 Jun 2027 23:59:59 GMT"
    assert parsedate_to_datetime(answer.headers["Sunset"]) == SUNSET
    assert re.fullmatch(rf'<{re.escape(GUIDE)}>; rel="deprecation".*', answer.headers["Link"])


@pytest.mark.parametrize("path", ["/api/v1/nothing/", "/api/v1/orders/1/"])
def test_error_of_a_version_with_an_end_says_so_too(plant, live, ending, path):
    assert live.get(path).headers["Deprecation"] == "@1688169599"


def test_other_addresses_say_nothing_of_a_version(plant, client, ending):
    assert "Deprecation" not in client.get("/admin/login/").headers


def test_version_is_gone_after_its_sunset_and_nothing_is_done(plant, live, ending):
    with time_machine.travel(SUNSET, tick=False):
        answer = live.post("/api/v1/orders/", {}, format="json")
    body = answer.json()
    assert (answer.status_code, body["code"], body["status"]) == (410, "version_gone", 410)
    assert answer.headers["Content-Type"] == "application/problem+json"
    assert GUIDE in body["detail"]


def test_version_works_until_its_sunset(plant, client_with, ending):
    with time_machine.travel(SUNSET - timedelta(seconds=1), tick=False):
        assert client_with("stock:read").get("/api/v1/stock/").status_code == 200


def test_document_marks_every_operation_of_a_version_with_an_end(ending):
    document = SchemaGenerator().get_schema(request=None, public=True)
    operations = [operation for path in document["paths"].values() for operation in path.values()]
    assert all(operation["deprecated"] for operation in operations)


def test_notice_shorter_than_the_policy_is_refused():
    with pytest.raises(ValueError, match="at least 365 days"):
        EndOfVersion(DEPRECATED, DEPRECATED + LEAST_NOTICE - timedelta(seconds=1), GUIDE)


def test_instant_without_an_offset_is_refused():
    with pytest.raises(ValueError, match="offset"):
        EndOfVersion(DEPRECATED.replace(tzinfo=None), SUNSET.replace(tzinfo=None), GUIDE)


def test_framework_knows_the_same_versions():
    assert list(VERSIONS) == settings.REST_FRAMEWORK["ALLOWED_VERSIONS"]
