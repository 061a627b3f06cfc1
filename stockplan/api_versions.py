"""The versions of the API, and what a version that will go says of itself in every answer.

The policy is in DEVELOPERS.md: a version that is deprecated works on for at least a year. Here stands which one is;
addresses, schema and headers follow.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from django.utils.http import http_date

LEAST_NOTICE = timedelta(days=365)


@dataclass(frozen=True)
class EndOfVersion:
    """When a version was deprecated and when it stops answering, and where the reader finds what to do.

    Raises
    ------
    ValueError
        If the notice is shorter than the policy says, or an instant has no offset.
    """

    deprecated_at: datetime
    sunset_at: datetime
    guide: str

    def __post_init__(self) -> None:
        if self.deprecated_at.tzinfo is None or self.sunset_at.tzinfo is None:
            raise ValueError("give both instants with their offset from UTC")
        if self.sunset_at - self.deprecated_at < LEAST_NOTICE:
            raise ValueError(f"a deprecated version works for at least {LEAST_NOTICE.days} days")

    def headers(self) -> dict[str, str]:
        """Return what every answer of the version carries (RFC 9745, 2; RFC 8594, 3; RFC 8288)."""
        return {
            "Deprecation": f"@{int(self.deprecated_at.timestamp())}",
            "Sunset": http_date(self.sunset_at.astimezone(UTC).timestamp()),
            "Link": f'<{self.guide}>; rel="deprecation"; type="text/html"',
        }


# None: it stays. A version that has an end keeps its line until nobody asks for it any more.
VERSIONS: Mapping[str, EndOfVersion | None] = {"v1": None}
CURRENT = "v1"
