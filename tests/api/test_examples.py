"""The guide's examples are what the service answers, and every endpoint has one."""

from __future__ import annotations

import re

import pytest
from django.db import connection

from tests.api.example_calls import example_exchanges
from tests.api.examples import BEGIN, END, GUIDE, api_section
from tests.api.test_openapi import OPERATIONS


def without_order_numbers(guide):
    return re.sub(r'("cursor": "|"id": |"order": |/orders/)[0-9]+', r"\1N", guide)


# The guide shows what SQLite counts. On PostgreSQL a refused order uses up an id, and the cursor of the changes of
# stock begins with the number of a transaction of the whole server.
SHOWN = {"sqlite": str, "postgresql": without_order_numbers}


# Ids count from one in a fresh database only; the guide shows those. Changes of stock wait for all who write.
@pytest.mark.alone
@pytest.mark.django_db(transaction=True, reset_sequences=True)
def test_guide_shows_what_the_service_answers_for_every_endpoint(tmp_path):
    exchanges = list(example_exchanges(tmp_path / "plant"))
    assert {(exchange.path, exchange.method.lower()) for exchange in exchanges} == OPERATIONS
    shown = GUIDE.read_text(encoding="utf-8").split(BEGIN)[1].split(END)[0]
    as_shown = SHOWN[connection.vendor]
    assert as_shown(shown.strip()) == as_shown(api_section(exchanges).strip())
