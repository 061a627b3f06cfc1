"""A hundred thousand strange order bodies and order tables: none may make the service fail or write by halves.

`python -m tests.benches.bench_fuzz [--cases N] [--seed N]` on SQLite in a folder of its own, or on the (empty) database
of DATABASE_URL. Drawn by hypothesis in whole shares of a thousand, each with a seed of its own, so that a fault that it
prints can be drawn again; the books are audited after each share. Any fault ends with 1.
"""

from __future__ import annotations

import argparse
import logging
import os
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING

import django
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st

from tests.benches.machine import machine

if TYPE_CHECKING:
    from rest_framework.test import APIClient

SHARE = 1_000
SKUS = ["PLA-BLACK-1000", "PETG-NAT-1000"]


def main() -> None:
    """Build a tiny plant, draw, count what came of it."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cases", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "stockplan.settings")
    with tempfile.TemporaryDirectory() as folder:
        os.environ.setdefault("DATABASE_URL", f"sqlite:///{folder}/fuzz.sqlite3")
        django.setup()
        # Every refusal is a warning in the log of a server.
        logging.disable(logging.WARNING)
        started, seen = time.monotonic(), Counter[object]()
        _draw(asked.cases, first_seed=asked.seed, table=Path(folder) / "table.csv", seen=seen)
        _report(seen, seconds=time.monotonic() - started)


def _draw(cases: int, *, first_seed: int, table: Path, seen: Counter[object]) -> None:
    from inventory.selectors.check import check_books
    from tests.inventory.builders import clock
    from tests.laws.strange_input import order_bodies, order_tables
    from tests.laws.strange_runs import import_strange_table, post_strange_body

    client, noon = _client(), clock("2027-03-01 12:00")

    def post(body: bytes) -> None:
        seen["order body", post_strange_body(client, body)] += 1

    def load(content: bytes) -> None:
        seen["order table", import_strange_table(table, content, clock=noon)] += 1

    for number in range(ceil(cases / SHARE)):
        strategy, law = (order_tables, load) if number % 2 else (order_bodies, post)
        _share(strategy(skus=SKUS), law, number=first_seed + number)
        if faults := list(check_books()):
            sys.exit(f"share {first_seed + number}: {faults}")


def _share(strategy: st.SearchStrategy[bytes], law: Callable[[bytes], None], *, number: int) -> None:
    drawn = settings(max_examples=SHARE, deadline=None, database=None, suppress_health_check=list(HealthCheck))
    seed(number)(drawn(given(strategy)(law)))()


def _client() -> APIClient:
    from django.core.management import call_command
    from rest_framework.test import APIClient

    from inventory.services.places import ensure_places
    from stockplan.access.models import Scope
    from stockplan.access.tokens import create_token
    from tests.api.calls import put_on_shelf
    from tests.inventory.builders import build_tiny_plant

    call_command("migrate", verbosity=0)
    build_tiny_plant()
    ensure_places()
    token = create_token(name="fuzz", scopes=list(Scope.values), channel_code=None, days=1)
    client = APIClient(headers={"authorization": f"Bearer {token}", "host": "localhost"})
    put_on_shelf(client, SKUS[0], 10_000)
    return client


def _report(seen: Counter[object], *, seconds: float) -> None:
    from django.db import connection

    print(f"{sum(seen.values()):,} cases in {seconds:.0f} s; {connection.vendor}; {machine()}")
    for kind, number in sorted(seen.items(), key=str):
        print(f"{kind}: {number:,}")
    print("None made the service fail, and the books are right.")


if __name__ == "__main__":
    main()
