"""Every answer names its request, and the log of the request carries the same name."""

from __future__ import annotations

import logging

import pytest
from django.conf import settings

from stockplan.request_ids import RequestIdFilter
from tests.api.calls import API


def test_answer_carries_a_new_name_each_time(plant, live):
    names = [live.get(API + "/stock/")["X-Request-ID"] for _ in range(2)]
    assert all(len(name) == 32 for name in names)
    assert names[0] != names[1]


def test_name_that_the_client_gives_is_kept(plant, live):
    assert live.get(API + "/stock/", headers={"x-request-id": "shop-4711.a"})["X-Request-ID"] == "shop-4711.a"


@pytest.mark.parametrize("name", ["", "a b", "a" * 65, "x\ny", "é"])
def test_name_that_could_forge_a_line_of_the_log_is_replaced(plant, live, name):
    assert live.get(API + "/stock/", headers={"x-request-id": name})["X-Request-ID"] != name


def test_error_carries_its_name_too(plant, live):
    answer = live.get(API + "/nothing/", headers={"x-request-id": "r-1"})
    assert (answer.status_code, answer["X-Request-ID"]) == (404, "r-1")


def test_log_carries_the_name_of_its_request(plant, live, caplog):
    caplog.handler.addFilter(RequestIdFilter())
    live.get(API + "/orders/77/", headers={"x-request-id": "r-77"})
    assert [record.request_id for record in caplog.records if record.name == "django.request"] == ["r-77"]
    logging.getLogger("django.request").warning("outside")
    assert caplog.records[-1].request_id == "-"


def test_line_that_is_written_during_a_request_carries_its_name(plant, live, caplog, monkeypatch):
    caplog.handler.addFilter(RequestIdFilter())
    said = logging.getLogger("books").warning
    monkeypatch.setattr("inventory.api.stock.views.stock_rows", lambda **_: said("looking") or [])
    live.get(API + "/stock/", headers={"x-request-id": "r-78"})
    assert [record.request_id for record in caplog.records if record.name == "books"] == ["r-78"]


def test_log_is_written_with_the_name():
    handler = settings.LOGGING["handlers"]["console"]
    assert handler["filters"] == ["request_id"]
    assert "{request_id}" in settings.LOGGING["formatters"][handler["formatter"]]["format"]
