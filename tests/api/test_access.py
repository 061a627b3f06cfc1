"""Who may call what: tokens, scopes, roles. Status codes: RFC 9110, sections 15.5.2 and 15.5.4; RFC 6750, section 3."""

from __future__ import annotations

from datetime import timedelta
from io import StringIO

import pytest
import time_machine
from django.contrib.auth.models import Group, User
from django.core.management import CommandError, call_command
from django.db import connection
from django.forms import model_to_dict
from django.test.utils import CaptureQueriesContext
from django.urls import get_resolver
from django.utils import timezone
from rest_framework.test import APIClient

from inventory.api.views import ApiView
from stockplan.access.models import ApiToken, Scope
from stockplan.access.roles import ROLES, scopes_of_user, set_up_roles
from stockplan.access.token_rows import tokens_with_key
from stockplan.access.tokens import create_token

SKUS = "/api/v1/skus/"
STOCK = "/api/v1/stock/"


def test_request_without_credentials_is_refused_with_the_scheme(db):
    answer = APIClient().get(SKUS)
    assert answer.status_code == 401
    assert answer.headers["www-authenticate"] == "Bearer"


@pytest.mark.parametrize("token", ["nonsense", "ÿÿÿ", "a" * 5000, "\u2603"])
def test_unknown_token_is_refused(db, token):
    answer = APIClient().get(SKUS, headers={"authorization": f"Bearer {token}".encode().decode("latin-1")})
    assert answer.status_code == 401


def test_token_opens_what_its_scope_names(plant, client_with):
    assert client_with("stock:read").get(SKUS).status_code == 200


def test_token_without_the_scope_is_told_which_it_needs(plant, client_with):
    answer = client_with("ship").get(STOCK)
    assert (answer.status_code, answer.json()["code"]) == (403, "missing_scope")
    assert "stock:read" in answer.json()["detail"]


def test_expired_token_is_refused_and_kept(plant, client_with):
    client = client_with("stock:read")
    ApiToken.objects.update(expiry=timezone.now() - timedelta(seconds=1))
    assert client.get(SKUS).status_code == 401
    assert ApiToken.objects.count() == 1


def test_token_of_an_inactive_user_is_refused(plant, client_with):
    client = client_with("stock:read")
    User.objects.update(is_active=False)
    assert client.get(SKUS).status_code == 401


def test_two_tokens_of_one_integration_live_side_by_side(plant, client_with):
    old, new = client_with("stock:read"), client_with("stock:read")
    assert User.objects.filter(username__startswith="integration.").count() == 1
    assert [old.get(SKUS).status_code, new.get(SKUS).status_code] == [200, 200]


def test_last_use_is_noted_at_most_once_a_minute(plant, client_with):
    client = client_with("stock:read")
    start = timezone.now()
    seen = []
    for seconds in (0, 59, 61):
        with time_machine.travel(start + timedelta(seconds=seconds), tick=False):
            client.get(SKUS)
        seen.append(ApiToken.objects.get().last_used_at - start)
    assert seen == [timedelta(0), timedelta(0), timedelta(seconds=61)]


def test_second_use_within_a_minute_writes_nothing(plant, client_with):
    client = client_with("stock:read")
    client.get(SKUS)
    with CaptureQueriesContext(connection) as captured:
        client.get(SKUS)
    assert [query["sql"] for query in captured if query["sql"].startswith("UPDATE")] == []


def test_integration_has_no_password(client_with):
    client_with("orders")
    assert not User.objects.get().has_usable_password()


def test_command_prints_a_token_that_works_and_stores_only_its_hash(plant):
    out = StringIO()
    call_command("create_token", "web-shop", "--scopes", "stock:read", "orders", "--channel", "WEB", stdout=out)
    token = out.getvalue().strip()
    assert APIClient(headers={"authorization": f"Bearer {token}"}).get(SKUS).status_code == 200
    assert token not in ApiToken.objects.values_list("digest", "token_key").get()


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["web", "--scopes", "everything"], "Unknown scope everything"),
        (["Web Shop", "--scopes", "orders"], "Token name 'Web Shop'"),
        (["web", "--scopes", "orders", "--channel", "NONE"], "no channel 'NONE'"),
        (["web", "--scopes", "orders", "--days", "0"], "lives 1 to 3650 days, not 0"),
    ],
)
def test_command_refuses_what_it_does_not_know(db, arguments, message):
    with pytest.raises(CommandError, match=message):
        call_command("create_token", *arguments)
    assert not ApiToken.objects.exists()
    assert not User.objects.exists()


@pytest.mark.parametrize(
    ("role", "allowed"),
    [("sales", True), ("planner", True), ("floor", True), ("owner", True)],
)
def test_every_role_reads_skus(plant, person_of, role, allowed):
    assert (person_of(role).get(SKUS).status_code == 200) is allowed


@pytest.mark.parametrize(
    ("role", "statuses"),
    [("sales", (200, 403)), ("planner", (403, 200)), ("floor", (403, 200)), ("owner", (200, 200))],
)
def test_role_opens_orders_and_runs_as_its_work_needs(plant, person_of, role, statuses):
    person = person_of(role)
    assert (person.get("/api/v1/orders/").status_code, person.get("/api/v1/runs/").status_code) == statuses


def test_nobody_gets_replay_by_role(db):
    superuser = User.objects.create_superuser("root-of-tests")
    assert Scope.REPLAY not in scopes_of_user(superuser)
    assert all(Scope.REPLAY not in role.scopes for role in ROLES.values())


def test_person_without_a_role_is_refused(plant):
    client = APIClient()
    client.force_login(User.objects.create_user("newcomer"))
    assert client.get(SKUS).status_code == 403


def test_logged_in_person_needs_the_csrf_token_to_write(plant):
    client = APIClient(enforce_csrf_checks=True)
    client.force_login(User.objects.create_superuser("boss"))
    answer = client.post("/api/v1/orders/", {}, format="json")
    assert (answer.status_code, answer.json()["code"]) == (403, "permission_denied")
    assert "CSRF" in answer.json()["detail"]


def test_roles_command_creates_groups_once_with_admin_permissions(db):
    call_command("set_up_roles", stdout=StringIO())
    call_command("set_up_roles", stdout=StringIO())
    assert set(Group.objects.values_list("name", flat=True)) == {"sales", "planner", "floor", "owner"}
    sales = Group.objects.get(name="sales").permissions.values_list("codename", flat=True)
    assert "view_order" in sales
    assert not [codename for codename in sales if not codename.startswith("view_")]


def test_no_role_may_change_the_ledger_in_the_admin(db):
    set_up_roles()
    held = Group.objects.values_list("permissions__codename", flat=True)
    ledger = {f"{verb}_{model}" for verb in ("add", "change", "delete") for model in ("movement", "balance", "order")}
    assert ledger.isdisjoint(held)


def test_every_role_permission_exists(db):
    set_up_roles()
    wanted = {f"view_{model}" for role in ROLES.values() for model in role.sees + role.edits}
    assert wanted == {
        name for name in Group.objects.values_list("permissions__codename", flat=True) if name.startswith("view_")
    }


def _api_views():
    patterns = [
        pattern for resolver in get_resolver().url_patterns for pattern in getattr(resolver, "url_patterns", [resolver])
    ]
    return {view for pattern in patterns if (view := getattr(pattern.callback, "view_class", None))}


def test_every_method_of_every_view_names_known_scopes():
    views = [view for view in _api_views() if issubclass(view, ApiView)]
    handled = {(view, method) for view in views for method in view.http_method_names if hasattr(view, method)}
    handled = {(view, method.upper()) for view, method in handled if method != "options"}
    named = {(view, method) for view in views for method in view.required_scopes}
    assert len(views) > 15
    assert handled == named
    assert {scope for view in views for scopes in view.required_scopes.values() for scope in scopes} <= set(
        Scope.values
    )


def test_create_token_writes_nothing_when_the_channel_is_unknown(db):
    with pytest.raises(Exception, match="no channel"):
        create_token(name="web", scopes=["orders"], channel_code="NONE", days=1)
    assert not User.objects.exists()


@pytest.mark.parametrize("channel", ["WEB", None])
def test_token_is_read_whole_with_its_user_and_channel_in_one_query(plant, client_with, channel):
    client_with("orders", "ship", channel=channel)
    stored = ApiToken.objects.select_related("user", "channel").get()
    # PostgreSQL makes the statement ready once a connection.
    tokens_with_key("")
    with CaptureQueriesContext(connection) as captured:
        [token] = tokens_with_key(stored.token_key)
        user, code = token.user, token.channel and token.channel.code
    assert [model_to_dict(each) for each in (token, user)] == [model_to_dict(each) for each in (stored, stored.user)]
    assert (token.digest, token.expiry, token.created, code) == (stored.digest, stored.expiry, stored.created, channel)
    assert len(captured) == 1
