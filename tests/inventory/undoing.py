"""Taking back what a test does to the books."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import transaction


@contextmanager
def undone() -> Iterator[None]:
    """What happens inside is rolled back at the end, so that examples and planted faults leave no trace."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)
