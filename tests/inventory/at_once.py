"""Calls on database connections of their own, all started together."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

from django.db import connection


def at_once(*calls: Callable[[], object]) -> list[object]:
    """Run the calls in a thread each, all of them started together; return answers and errors in order."""
    ready = Barrier(len(calls))

    def run(call: Callable[[], object]) -> object:
        try:
            ready.wait()
            return call()
        except Exception as error:  # the test looks at it
            return error
        finally:
            connection.close()

    with ThreadPoolExecutor(len(calls)) as pool:
        return list(pool.map(run, calls))
