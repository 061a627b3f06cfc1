"""The transaction of a service, tried again where the database gave it up for the sake of another one.

The isolation is READ COMMITTED with row locks in one order (see DEVELOPERS.md, Transactions and locks); on SQLite every
transaction takes the one write lock when it begins. So nothing here should ever clash. Where it does all the same -
a deadlock with something outside of the services, a server that runs at a stricter isolation - nothing was written,
and the whole transaction is safe to run again.
"""

from __future__ import annotations

import logging
import random
import time
from collections.abc import Callable
from functools import wraps
from typing import ParamSpec, TypeVar

from django.db import OperationalError, connection, transaction

from inventory.errors import ConflictError

Arguments = ParamSpec("Arguments")
Result = TypeVar("Result")

MOST_TRIES = 4
# The longest wait before the second try is twice this; each one after it may be twice as long.
FIRST_WAIT_S = 0.02
# serialization_failure and deadlock_detected (PostgreSQL, Appendix A: Error Codes, class 40).
CLASHES = frozenset({"40001", "40P01"})
log = logging.getLogger(__name__)


class ContentionError(ConflictError):
    """Other changes of the same rows came in between again and again; nothing was changed."""

    code = "contention"


def in_one_transaction(service: Callable[Arguments, Result]) -> Callable[Arguments, Result]:
    """Run a service in one transaction; alone, not within another one, run it again after a clash.

    Only deadlocks and serialization failures are tried again, at most `MOST_TRIES` times in all, after a random wait
    that doubles. The service must do nothing that a rollback does not undo.

    Raises
    ------
    ContentionError
        If the last try clashed as well.
    """

    @wraps(service)
    def run(*args: Arguments.args, **kwargs: Arguments.kwargs) -> Result:
        if connection.in_atomic_block:
            # What clashes takes the whole transaction with it: only the outermost one can begin anew.
            with transaction.atomic():
                return service(*args, **kwargs)
        number = 1
        while True:
            try:
                with transaction.atomic():
                    return service(*args, **kwargs)
            except OperationalError as error:
                if not _is_clash(error):
                    raise
                if number == MOST_TRIES:
                    raise ContentionError(
                        "Others changed the same records {number} times in a row; nothing was changed. Send it again.",
                        number=number,
                    ) from error
                log.warning("%s clashed with another transaction, try %d: %s", service.__name__, number, error)
            time.sleep(random.uniform(0, FIRST_WAIT_S * 2**number))
            number += 1

    return run


def _is_clash(error: OperationalError) -> bool:
    return getattr(error.__cause__, "sqlstate", None) in CLASHES
