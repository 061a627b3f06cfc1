"""Orders posted per second: the API's order view against a bare view, on one server with the same two workers.

`python -m tests.benches.bench_orders` brings up a PostgreSQL cluster of its own; with DATABASE_URL set it uses that
(empty) database. Orders of two lines from four clients; rounds alternate between the views, so that a busy machine
disturbs both. Aim: at least 0.6 of the bare view.
"""

from __future__ import annotations

import http.client
import itertools
import json
import os
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import django
import numpy as np

from tests.benches.machine import machine

WORKERS = 2
CLIENTS = 4
ORDERS_PER_ROUND = 300
ROUNDS = 5
AIM_RATIO = 0.6
CHANNEL = "LATTICE"
PLENTY_SPOOLS = 1_000_000
VIEWS = {"bare": "/bare/orders/", "api": "/api/v1/orders/"}


@dataclass(frozen=True)
class Round:
    """One round of posts to one view."""

    orders_per_second: float
    median_ms: float
    server_cpu_ms: float


def main() -> None:
    """Build the database, serve, post, and print the ratio."""
    if "DATABASE_URL" not in os.environ:
        script = Path(__file__).parent.parent / "with_postgres.sh"
        sys.exit(subprocess.run(["bash", str(script), sys.executable, "-m", __spec__.name], check=False).returncode)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "stockplan.settings")
    django.setup()
    token, skus = fill_database(spools_each=PLENTY_SPOOLS)
    counter = itertools.count(1)
    rounds: dict[str, list[Round]] = {view: [] for view in VIEWS}
    with serve("tests.benches.bare_wsgi", workers=WORKERS) as (port, pid):
        for view in VIEWS:
            _post_round(port, pid, view, bodies=_bodies(skus, counter, count=50), token=token)
        for _ in range(ROUNDS):
            for view, done in rounds.items():
                bodies = _bodies(skus, counter, count=ORDERS_PER_ROUND)
                done.append(_post_round(port, pid, view, bodies=bodies, token=token))
    _report(rounds)


def fill_database(*, spools_each: int) -> tuple[str, list[str]]:
    """Load the demo plant without its orders, so many spools of each SKU on the shelf; return a token and the SKUs."""
    from django.core.management import call_command

    from inventory.models import Sku
    from stockplan.access.tokens import create_token
    from stockplan.demo.generate import write_demo_plant

    call_command("migrate", verbosity=0)
    with tempfile.TemporaryDirectory() as folder:
        plant = write_demo_plant(Path(folder) / "plant")
        opening = plant.tables["opening_stock.csv"]
        opening.loc[opening["place"] == "shelf", "quantity"] = spools_each
        opening.to_csv(Path(folder) / "plant" / "opening_stock.csv", index=False, lineterminator="\n")
        (Path(folder) / "plant" / "orders.csv").unlink()
        with Path(os.devnull).open("w") as quiet:
            call_command("load_plant", f"{folder}/plant", stdout=quiet, stderr=quiet)
    token = create_token(name="bench", scopes=["orders"], channel_code=CHANNEL, days=1)
    shelved = set(opening.loc[opening["place"] == "shelf", "item"])
    on_sale = Sku.objects.filter(active_to=None, active_from__lt="2026-01-01").values_list("item__code", flat=True)
    return token, sorted(shelved & set(on_sale))


def _bodies(skus: list[str], counter: Iterator[int], *, count: int) -> list[bytes]:
    numbers = list(itertools.islice(counter, count))
    rng = np.random.default_rng(numbers[0])
    picked = [rng.choice(len(skus), size=2, replace=False) for _ in numbers]
    return [
        json.dumps(
            {
                "channel": CHANNEL,
                "reference": f"BENCH-{number}",
                "lines": [{"sku": skus[int(n)], "quantity": 1} for n in pair],
            }
        ).encode()
        for number, pair in zip(numbers, picked, strict=True)
    ]


@contextmanager
def serve(module: str, *, workers: int) -> Iterator[tuple[int, int]]:
    """Serve a WSGI module by gunicorn; the port and the process id of its master."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "gunicorn", module, "--preload", "--log-level", "warning"]
    process = subprocess.Popen([*command, "--workers", str(workers), "--bind", f"127.0.0.1:{port}"])
    try:
        _wait_until_open(port, process)
        yield port, process.pid
    finally:
        process.terminate()
        process.wait(timeout=30)


def _wait_until_open(port: int, process: subprocess.Popen[bytes], *, limit_s: float = 60.0) -> None:
    started = time.monotonic()
    while time.monotonic() - started < limit_s and process.poll() is None:
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.1)
    raise RuntimeError(f"The server did not open port {port} within {limit_s:.0f} s.")


def _post_round(port: int, pid: int, view: str, *, bodies: list[bytes], token: str) -> Round:
    cpu_before, started = _cpu_s(pid), time.perf_counter()
    with ThreadPoolExecutor(CLIENTS) as clients:
        seconds = list(clients.map(lambda body: _post(port, VIEWS[view], body, token), bodies))
    elapsed = time.perf_counter() - started
    return Round(
        orders_per_second=len(bodies) / elapsed,
        median_ms=1000 * statistics.median(seconds),
        server_cpu_ms=1000 * (_cpu_s(pid) - cpu_before) / len(bodies),
    )


def _post(port: int, path: str, body: bytes, token: str) -> float:
    started = time.perf_counter()
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
    headers = {"Content-Type": "application/json", "Authorization": f"Bearer {token}"}
    connection.request("POST", path, body, headers)
    answer = connection.getresponse()
    text = answer.read()
    connection.close()
    if answer.status != 201:
        raise RuntimeError(f"POST {path}: {answer.status} {text[:500].decode()}")
    return time.perf_counter() - started


def _cpu_s(master: int) -> float:
    """Processor seconds of the workers so far (Linux); NaN where the system does not tell."""
    ticks = 0
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = stat.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if int(fields[1]) == master:
            ticks += int(fields[11]) + int(fields[12])
    return ticks / os.sysconf("SC_CLK_TCK") if ticks else float("nan")


def _report(rounds: dict[str, list[Round]]) -> None:
    from django.db import connection

    print(f"Orders of two lines, {WORKERS} workers, {CLIENTS} clients, {connection.vendor}; {machine()}")
    for view, done in rounds.items():
        rates = ", ".join(f"{one.orders_per_second:.0f}" for one in done)
        median_ms = statistics.median(one.median_ms for one in done)
        cpu_ms = statistics.median(one.server_cpu_ms for one in done)
        print(f"{view:>5}: {rates} orders/s by round; median {median_ms:.1f} ms, {cpu_ms:.1f} ms of Python an order")
    ratios = [
        api.orders_per_second / bare.orders_per_second for api, bare in zip(rounds["api"], rounds["bare"], strict=True)
    ]
    print(f"ratio api/bare: {statistics.median(ratios):.2f} (aim: at least {AIM_RATIO})")


if __name__ == "__main__":
    main()
