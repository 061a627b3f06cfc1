"""The guide's examples are what the service answers, and every endpoint has one."""

from __future__ import annotations

import pytest

from tests.api.example_calls import example_exchanges
from tests.api.examples import BEGIN, END, GUIDE, api_section
from tests.api.test_openapi import OPERATIONS


# Ids count from one in a fresh database only; the guide shows those.
@pytest.mark.django_db(transaction=True, reset_sequences=True)
def test_guide_shows_what_the_service_answers_for_every_endpoint(tmp_path):
    exchanges = list(example_exchanges(tmp_path / "plant"))
    assert {(exchange.path, exchange.method.lower()) for exchange in exchanges} == OPERATIONS
    shown = GUIDE.read_text(encoding="utf-8").split(BEGIN)[1].split(END)[0]
    assert shown.strip() == api_section(exchanges).strip()
