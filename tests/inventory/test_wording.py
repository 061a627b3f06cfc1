"""Texts in the words of whoever reads them: the instants."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone

from inventory.rules.texts import text
from inventory.wording import in_words

AT = datetime(2027, 3, 1, 7, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    ("zone", "at", "said"),
    [
        ("Europe/Berlin", AT, "Dry at 2027-03-01 08:30."),
        ("Europe/Berlin", AT.replace(second=5, microsecond=9), "Dry at 2027-03-01 08:30:05."),
        # In winter London has the hours of UTC, but it is a plant's clock.
        ("Europe/London", AT, "Dry at 2027-03-01 07:30."),
        ("UTC", AT, "Dry at 2027-03-01 07:30Z."),
    ],
)
def test_instant_is_said_on_the_readers_clock(zone: str, at: datetime, said: str) -> None:
    with timezone.override(ZoneInfo(zone)):
        assert in_words(text("Dry at {at}.", at=at)) == said
