"""Orders posted per second against a bare view, one by one and many in a body; the stock list; with a long ledger.

`python -m tests.benches.bench_api [--movements N ...]` measures on a PostgreSQL cluster of its own and on SQLite; with
DATABASE_URL on that (empty) database. The service runs as in production: no debug, kept connections. Orders of two
lines; rounds alternate between the views, so that a busy machine disturbs all of them. All figures once more for each
number of movements in the ledger. Goals: at least 1.5 times the bare view one by one, 8 times in bodies of 500; at
most 1.2 times slower with a thousand times the movements.
"""

from __future__ import annotations

import argparse
import os
import re
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path

import django
import numpy as np

from tests.benches.clients import Load, put_load, request
from tests.benches.long_ledger import lengthen_ledger
from tests.benches.machine import machine
from tests.benches.served import cpu_s, fill_database, order_bodies, serve

WORKERS = 2
CLIENTS = (1, 4, 16)
ROUNDS = 5
ORDERS_PER_ROUND = 200
ORDERS_PER_BODY = 500
BODIES_PER_ROUND = 4
LISTS = 60
PLENTY_SPOOLS = 10_000_000
PATHS = {"bare": "/bare/orders/", "api": "/api/v1/orders/", "bulk": "/api/v1/orders/bulk/"}
GOALS = {"api": 1.5, "bulk": 8.0}
STOCK = "/api/v1/stock/?limit=500"


@dataclass
class Rounds:
    """All rounds of one view with one number of clients."""

    rates: list[float] = field(default_factory=list)
    seconds: list[float] = field(default_factory=list)
    cpu_ms: list[float] = field(default_factory=list)

    def add(self, load: Load, *, orders: int, cpu: float) -> None:
        """Keep one round."""
        self.rates.append(orders / load.elapsed_s)
        self.seconds.extend(load.seconds)
        self.cpu_ms.append(1000 * cpu / orders)

    def __str__(self) -> str:
        middle, late = np.percentile(self.seconds, [50, 99]) * 1000
        rate, cpu_ms = statistics.median(self.rates), statistics.median(self.cpu_ms)
        return (
            f"{rate:7.0f} orders/s, p50 {middle:6.1f}, p99 {late:6.1f} ms a request; {cpu_ms:.2f} ms of Python an order"
        )


def main() -> None:
    """Measure on the database of DATABASE_URL, or on one of each kind."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--movements", type=int, nargs="+", default=[10_000])
    asked = parser.parse_args()
    # As in production: with debug on every statement would be noted down.
    os.environ.pop("STOCKPLAN_DEBUG", None)
    os.environ.setdefault("STOCKPLAN_SECRET_KEY", "of the bench")
    if "DATABASE_URL" not in os.environ:
        sys.exit(_on_both())
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "stockplan.settings")
    django.setup()
    token, skus = fill_database(spools_each=PLENTY_SPOOLS)
    _measure(token, skus, movements=asked.movements)


def _on_both() -> int:
    again = [sys.executable, "-m", __spec__.name, *sys.argv[1:]]
    script = Path(__file__).parent.parent / "with_postgres.sh"
    codes = [subprocess.run(["bash", str(script), *again], check=False).returncode]
    with tempfile.TemporaryDirectory() as folder:
        environment = {**os.environ, "DATABASE_URL": f"sqlite:///{folder}/api.sqlite3"}
        codes.append(subprocess.run(again, check=False, env=environment).returncode)
    return max(codes)


def _measure(token: str, skus: list[str], *, movements: Sequence[int]) -> None:
    from django.db import connection

    print(f"{connection.vendor}; one server with {WORKERS} workers; {machine()}", flush=True)
    numbers, baseline = count(1, ORDERS_PER_BODY), {}
    for length in movements:
        lengthen_ledger(to=length)
        _fill_orders(token, skus, numbers)
        connection.close()
        print(f"{length:,} movements in the ledger", flush=True)
        found = dict(_figures(token, skus, numbers))
        baseline = baseline or found
        _compare(found, baseline)
    if connection.vendor == "postgresql":
        _pgbench()


def _fill_orders(token: str, skus: list[str], numbers: Iterator[int]) -> None:
    """Post orders by every view and let the database look at its tables, as it has in a plant.

    PostgreSQL keeps the plan of a statement, and of the check of a foreign key, that it made on an empty table until it
    next looks: within a minute of a bench, long before the first order of a plant that was loaded.
    """
    from django.db import connection

    with serve("tests.benches.bare_wsgi", workers=WORKERS) as (port, _):
        for view in PATHS:
            put_load(port, _requests(view, token, skus, numbers, clients=1)[0], clients=1)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def _figures(token: str, skus: list[str], numbers: Iterator[int]) -> Iterator[tuple[str, float]]:
    """Seconds by name of the figure, printed as they come."""
    with serve("tests.benches.bare_wsgi", workers=WORKERS) as (port, pid):
        for clients in CLIENTS:
            rounds = {view: Rounds() for view in PATHS}
            for number in range(ROUNDS + 1):
                for view, kept in rounds.items():
                    before, requests, orders = cpu_s(pid), *_requests(view, token, skus, numbers, clients=clients)
                    load = put_load(port, requests, clients=clients)
                    # The first round warms up.
                    if number:
                        kept.add(load, orders=orders, cpu=cpu_s(pid) - before)
            _print_rounds(rounds, clients=clients)
            yield from (
                (f"{view} order, {clients} clients", 1 / statistics.median(kept.rates)) for view, kept in rounds.items()
            )
        load = put_load(port, [request("GET", STOCK, token=token)] * LISTS, clients=1)
        middle = statistics.median(load.seconds)
        print(f"  stock list: p50 {1000 * middle:.1f} ms, {load.body_bytes:,} bytes, {_skus()} SKUs", flush=True)
        yield "stock list", middle


def _requests(
    view: str, token: str, skus: list[str], numbers: Iterator[int], *, clients: int
) -> tuple[list[bytes], int]:
    """The requests of one round, and how many orders they hold."""
    if view == "bulk":
        orders = [
            order_bodies(skus, first=next(numbers), count=ORDERS_PER_BODY)
            for _ in range(max(BODIES_PER_ROUND, clients))
        ]
        bodies: list[object] = [{"orders": some} for some in orders]
        return [request("POST", PATHS[view], token=token, body=body) for body in bodies], len(bodies) * ORDERS_PER_BODY
    ones = order_bodies(skus, first=next(numbers), count=ORDERS_PER_ROUND)
    return [request("POST", PATHS[view], token=token, body=body) for body in ones], len(ones)


def _print_rounds(rounds: Mapping[str, Rounds], *, clients: int) -> None:
    print(f"  {clients} clients", flush=True)
    for view, kept in rounds.items():
        ratios = [own / bare for own, bare in zip(kept.rates, rounds["bare"].rates, strict=True)]
        ratio = f"; {statistics.median(ratios):.2f} of bare (goal {GOALS[view]})" if view in GOALS else ""
        print(f"    {view:>4}: {kept}{ratio}", flush=True)


def _skus() -> int:
    from inventory.models import Sku

    return Sku.objects.count()


def _compare(found: Mapping[str, float], baseline: Mapping[str, float]) -> None:
    if found is not baseline:
        for name, seconds in found.items():
            print(
                f"  {name}: {seconds / baseline[name]:.2f} of the time with the shortest ledger (goal 1.2)", flush=True
            )


def _pgbench() -> None:
    """The server's own bench, to tell how fast it is: TPC-B-like, scale 10, four clients, ten seconds."""
    tool = sorted(Path("/usr/lib/postgresql").glob("*/bin/pgbench"))[-1]
    url = os.environ["DATABASE_URL"].replace("postgres://", "postgresql://")
    subprocess.run([tool, "-i", "-q", "-s", "10", url], check=True, capture_output=True)
    said = subprocess.run(
        [tool, "-c", "4", "-j", "2", "-T", "10", url], check=True, capture_output=True, text=True
    ).stdout
    rate = re.search(r"tps = ([\d.]+)", said)
    assert rate, said
    print(f"pgbench, TPC-B-like, scale 10, 4 clients: {float(rate[1]):.0f} transactions/s", flush=True)


if __name__ == "__main__":
    main()
