"""Spools kept for a visitor at the counter, until an hour."""

from __future__ import annotations

from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.http import HttpResponse
from django.test import Client
from django.utils import timezone

from inventory.models import Order
from inventory.rules.clock import Clock
from inventory.services.keeping import end_kept
from stockplan.planner.templatetags.planner_pages import moment
from tests.pages.conftest import log_in_again
from tests.pages.counter_order import BERLIN, BLACK, FIELDS, put


def _later(hours: int) -> str:
    return f"{timezone.localtime(timezone.now() + timedelta(hours=hours), BERLIN):%Y-%m-%dT%H:%M}"


def _keep(client: Client, spools: str = "3", **more: str) -> HttpResponse:
    put(client, BLACK, spools)
    kept = {**FIELDS, f"line {BLACK}": spools, "kept_until": _later(2), "ship_to": "the blue van"}
    return client.post("/admin/stock/keep/", kept | more, follow=True)


def _free(client: Client) -> int:
    return client.get("/admin/stock/", {"q": BLACK}).context["rows"][0].free


def test_counter_keeps_spools_for_a_visitor_and_takes_them_as_an_order(sales: Client) -> None:
    answer = _keep(sales)
    assert "The spools are kept until" in answer.text
    assert "the blue van" in answer.text
    # Ten lie there, two belong to another order, three are kept.
    assert _free(sales) == 8 - 3
    kept = Order.objects.get(kind="kept")
    answer = sales.post(f"/admin/stock/kept/{kept.pk}/resume/", follow=True)
    assert "and 3 kept for this order" in answer.text
    form = answer.context["form"]
    assert (form["channel"].value(), form["ship_to"].value()) == (kept.channel.code, "the blue van")
    sales.post("/admin/stock/take/", {**FIELDS, "reference": "C-2", f"line {BLACK}": "3"})
    assert (Order.objects.get(reference="C-2").kind, _free(sales)) == ("regular", 5)
    assert sales.get("/admin/stock/").context["kept"] == []


def test_counter_leaves_the_order_at_the_counter_when_a_visitor_comes_back(sales: Client) -> None:
    _keep(sales)
    put(sales, "PETG-NAT-1000")
    answer = sales.post(f"/admin/stock/kept/{Order.objects.get(kind='kept').pk}/resume/", follow=True)
    assert "There is an order at the counter already." in answer.text
    assert [row.sku_code for row, _ in answer.context["basket"]] == ["PETG-NAT-1000"]


def test_counter_shows_what_is_kept_as_free_after_its_hour(sales: Client) -> None:
    _keep(sales)
    with time_machine.travel(timezone.now() + timedelta(hours=3)):
        log_in_again(sales, "sales")
        assert (_free(sales), sales.get("/admin/stock/").context["kept"]) == (8, [])


def test_visitor_who_comes_too_late_is_told_and_may_order_what_is_free(sales: Client) -> None:
    _keep(sales)
    kept = Order.objects.get(kind="kept")
    sales.post(f"/admin/stock/kept/{kept.pk}/resume/")
    end_kept(order_id=kept.pk, clock=Clock.at(timezone.now()))
    order = {**FIELDS, "reference": "C-2", f"line {BLACK}": "3"}
    answer = sales.post("/admin/stock/take/", order)
    assert (answer.status_code, "what was kept has gone back" in answer.text) == (422, True)
    assert sales.post("/admin/stock/take/", order).status_code == 302


def test_visitor_who_comes_too_late_may_keep_what_is_free_anew(sales: Client) -> None:
    _keep(sales)
    kept = Order.objects.get(kind="kept")
    sales.post(f"/admin/stock/kept/{kept.pk}/resume/")
    end_kept(order_id=kept.pk, clock=Clock.at(timezone.now()))
    anew = {**FIELDS, "reference": "C-2", f"line {BLACK}": "3", "kept_until": _later(2)}
    answer = sales.post("/admin/stock/keep/", anew)
    assert (answer.status_code, "Nothing is kept:" in answer.text) == (422, True)
    assert sales.post("/admin/stock/keep/", anew).status_code == 302


def test_counter_gives_kept_spools_back_by_hand(sales: Client) -> None:
    _keep(sales)
    kept = Order.objects.get(kind="kept")
    answer = sales.post(f"/admin/stock/kept/{kept.pk}/give-back/", follow=True)
    assert "The spools are free again." in answer.text
    assert _free(sales) == 8
    assert "Nothing went back:" in sales.post(f"/admin/stock/kept/{kept.pk}/give-back/", follow=True).text
    assert "not kept any more" in sales.post(f"/admin/stock/kept/{kept.pk}/resume/", follow=True).text


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"kept_until": ""}, "has an end"),
        ({"kept_until": _later(-1)}, "until a time still to come"),
        ({f"line {BLACK}": "9"}, "8 of PLA-BLACK-1000 are free, 9 were to be kept"),
        ({"kept_until": "soon"}, "Enter a valid date/time."),
    ],
    ids=["no hour", "a past hour", "more than is free", "no time"],
)
def test_counter_says_why_nothing_is_kept(sales: Client, changed: dict[str, str], said: str) -> None:
    answer = _keep(sales, **changed)
    assert (answer.status_code, said in answer.text, "Nothing is kept:" in answer.text) == (422, True, True)
    assert not Order.objects.filter(kind="kept").exists()


def test_visitor_is_told_until_when_spools_are_kept(sales: Client) -> None:
    put(sales, BLACK)
    until = timezone.localtime(timezone.now() + timedelta(hours=3), ZoneInfo("Europe/Berlin"))
    typed = FIELDS | {"kept_until": f"{until:%Y-%m-%dT%H:%M}", f"line {BLACK}": "1"}
    with timezone.override(until.tzinfo):
        assert (
            f"The spools are kept until {moment(until)}." in sales.post("/admin/stock/keep/", typed, follow=True).text
        )
