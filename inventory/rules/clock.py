"""The two clocks of a fact: when it happened and when the books learned of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime


@dataclass(frozen=True)
class Clock:
    """The two instants of one fact, kept in UTC: hours that are added to them are elapsed hours.

    `as_of` reads filter on `known_at`, so a late posting never leaks into the past.

    Parameters
    ----------
    occurred_at : datetime
        When it happened; aware.
    known_at : datetime
        When the books learned of it; aware, never before `occurred_at`.

    Raises
    ------
    ValueError
        If an instant is naive, or the books would know of a fact before it happened.

    Examples
    --------
    >>> from datetime import datetime, timezone
    >>> noon = datetime(2027, 3, 1, 12, tzinfo=timezone.utc)
    >>> Clock.at(noon).known_at == noon
    True
    """

    occurred_at: datetime
    known_at: datetime

    def __post_init__(self) -> None:
        for name, instant in (("occurred_at", self.occurred_at), ("known_at", self.known_at)):
            if instant.tzinfo is None or instant.utcoffset() is None:
                raise ValueError(f"{name} {instant.isoformat()} has no time zone; give an aware instant.")
            # Adding hours to an instant in a local zone would add them to the wall clock, which jumps twice a year.
            object.__setattr__(self, name, instant.astimezone(UTC))
        if self.occurred_at > self.known_at:
            raise ValueError(
                f"occurred_at {self.occurred_at.isoformat()} is after known_at {self.known_at.isoformat()}; "
                "the books cannot know of a fact before it happens."
            )

    @classmethod
    def at(cls, instant: datetime) -> Clock:
        """Both clocks at one instant: a fact that is posted as it happens."""
        return cls(occurred_at=instant, known_at=instant)
