"""What the tests of the API share: the tiny plant, and clients of each kind of caller."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.contrib.auth.models import Group, User
from rest_framework.test import APIClient

from stockplan.access.models import Scope
from stockplan.access.roles import set_up_roles
from stockplan.access.tokens import create_token
from tests.inventory.builders import TinyPlant, build_tiny_plant

ClientOf = Callable[..., APIClient]


@pytest.fixture
def plant(db: None) -> TinyPlant:
    return build_tiny_plant()


@pytest.fixture
def client_with(db: None) -> ClientOf:
    """Make a client that carries a new token of the scopes."""

    def client(*scopes: str, channel: str | None = None) -> APIClient:
        token = create_token(name="test", scopes=scopes, channel_code=channel, days=1)
        return APIClient(headers={"authorization": f"Bearer {token}"})

    return client


@pytest.fixture
def replay(client_with: ClientOf) -> APIClient:
    """A client with every scope, `replay` among them."""
    return client_with(*Scope.values)


@pytest.fixture
def live(client_with: ClientOf) -> APIClient:
    """A client with every scope but `replay`."""
    return client_with(*(scope for scope in Scope.values if scope != Scope.REPLAY))


@pytest.fixture
def person_of(db: None) -> ClientOf:
    """Make a client that is logged in as a member of a role."""

    def client(role: str) -> APIClient:
        set_up_roles()
        user = User.objects.create_user(username=f"{role}-person")
        user.groups.add(Group.objects.get(name=role))
        logged_in = APIClient()
        logged_in.force_login(user)
        return logged_in

    return client
