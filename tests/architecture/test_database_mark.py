"""What uses the database is marked by itself: the stages run what bears the mark on SQLite and on PostgreSQL."""

from __future__ import annotations

import pytest
from django.contrib.auth.models import User
from pytest_django.live_server_helper import LiveServer


def is_marked(request: pytest.FixtureRequest) -> bool:
    return request.node.get_closest_marker("database") is not None


@pytest.fixture
def one(db: None) -> User:
    return User.objects.create(username="one")


def test_mark_comes_with_a_fixture_that_writes(one: User, request: pytest.FixtureRequest) -> None:
    assert is_marked(request)


def test_mark_comes_with_a_server(live_server: LiveServer, request: pytest.FixtureRequest) -> None:
    assert is_marked(request)


@pytest.mark.django_db
def test_mark_comes_with_that_of_django(request: pytest.FixtureRequest) -> None:
    assert is_marked(request)


def test_what_asks_for_no_database_has_no_mark_and_reaches_none(request: pytest.FixtureRequest) -> None:
    assert not is_marked(request)
    with pytest.raises(RuntimeError, match="Database access not allowed"):
        User.objects.exists()
