"""What commands of the books share: reading an instant, showing progress."""

from __future__ import annotations

import argparse
import sys
from datetime import UTC, datetime
from time import monotonic
from types import TracebackType
from typing import TextIO

from django.core.management.base import OutputWrapper

BAR_WIDTH = 30
SECONDS_BETWEEN_DRAWS = 0.2


def read_instant(text: str) -> datetime:
    """Read an instant of the command line.

    Raises
    ------
    argparse.ArgumentTypeError
        If it is none, or has no offset from UTC.
    """
    try:
        instant = datetime.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(
            f"{text!r} is not an instant; write it like 2027-03-01T07:00:00+01:00."
        ) from None
    if instant.tzinfo is None:
        raise argparse.ArgumentTypeError(f"{text!r} has no offset from UTC; write it like 2027-03-01T07:00:00+01:00.")
    return instant.astimezone(UTC)


class ConsoleProgress:
    """A bar on one line of a terminal; silent where the output is not one."""

    def __init__(self, stream: OutputWrapper | TextIO) -> None:
        self._stream = stream
        self._is_shown = sys.stderr.isatty()
        self._drawn_at = 0.0

    def __enter__(self) -> ConsoleProgress:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._is_shown:
            self._write("\r\x1b[K")

    def __call__(self, what: str, done: int, total: int) -> None:
        if not self._is_shown or (monotonic() - self._drawn_at < SECONDS_BETWEEN_DRAWS and done < total):
            return
        self._drawn_at = monotonic()
        filled = BAR_WIDTH * done // max(total, 1)
        self._write(f"\r\x1b[K[{'#' * filled}{'.' * (BAR_WIDTH - filled)}] {what} {done}/{total}")

    def _write(self, text: str) -> None:
        if isinstance(self._stream, OutputWrapper):
            self._stream.write(text, ending="")
        else:
            self._stream.write(text)
        self._stream.flush()
