"""What the tests of the pages share: a plant with a make list that they know line by line, and people."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import pytest
from django.contrib.auth.hashers import make_password
from django.contrib.auth.models import Group, User
from django.test import Client

from stockplan.access.roles import set_up_roles
from tests.pages.shown_plant import ShownPlant, build_shown_plant

PASSWORD = "spools-and-lines-7"
BACKEND = "django.contrib.auth.backends.ModelBackend"
# Once: to hash a password takes longer than to answer with a page.
hashed = cache(make_password)


@pytest.fixture
def shown(db: None) -> ShownPlant:
    return build_shown_plant()


@pytest.fixture
def person(db: None) -> Callable[[str], User]:
    """Make a person of a role who may log in to the site."""

    def make(role: str) -> User:
        set_up_roles()
        user = User.objects.create(username=f"{role}-person", password=hashed(PASSWORD), is_staff=True)
        user.groups.add(Group.objects.get(name=role))
        return user

    return make


def log_in_again(client: Client, role: str) -> None:
    """Log a person in who logged in the evening before: a session lasts twelve hours."""
    client.force_login(User.objects.get(username=f"{role}-person"), backend=BACKEND)


@pytest.fixture
def logged_in(person: Callable[[str], User]) -> Callable[[str], Client]:
    """Make a client that is logged in as a person of a role."""

    def make(role: str) -> Client:
        client = Client()
        client.force_login(person(role), backend=BACKEND)
        return client

    return make
