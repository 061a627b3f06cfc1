"""Nothing lost, nothing sold twice: clients post overlapping orders while workers and the database are killed.

`python -m tests.benches.bench_books [--orders N] [--clients N] [--workers N] [--kills N] [--seed N]` on a PostgreSQL
cluster of its own, or on the (empty) database of DATABASE_URL. Every worker is a process with a connection of its own.
Every client repeats an order until it is acknowledged, half of them under an Idempotency-Key, half by the order's
reference alone. Victims of `kill -9` are drawn at random: workers of the server, and on PostgreSQL backends of the
database, whose death makes the whole cluster recover from a crash. An auditor looks at the books afterwards; any fault
is printed and ends with 1. `--kills 0` only posts.
"""

from __future__ import annotations

import argparse
import http.client
import json
import os
import random
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

import django

from tests.benches.machine import machine
from tests.benches.served import CHANNEL, fill_database, serve

SKUS = 50
SPOOLS_EACH = 300
SECONDS_BETWEEN_KILLS = 0.7
MOST_TRIES = 400
RETRIED = (409, 500, 502, 503)
CLIENT_BACKENDS = "SELECT pid FROM pg_stat_activity WHERE backend_type = 'client backend' AND pid <> pg_backend_pid()"
# A backend lives as long as a request: it takes some looks to see one.
MOST_LOOKS = 2_000


@dataclass
class Posted:
    """What the clients were told."""

    orders: dict[str, dict[str, int]] = field(default_factory=dict)
    tries: int = 0
    kills: dict[str, int] = field(default_factory=lambda: {"worker": 0, "database": 0})


def main() -> None:
    """Fill the books, post under fire, audit."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--orders", type=int, default=2_000)
    parser.add_argument("--clients", type=int, default=16)
    parser.add_argument("--workers", type=int, default=4)
    parser.add_argument("--kills", type=int, default=50)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    if "DATABASE_URL" not in os.environ:
        script = Path(__file__).parent.parent / "with_postgres.sh"
        command = ["bash", str(script), sys.executable, "-m", __spec__.name, *sys.argv[1:]]
        sys.exit(subprocess.run(command, check=False).returncode)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "stockplan.settings")
    django.setup()
    # Few spools of few SKUs, so that the shelf runs out under the posts.
    token, skus = fill_database(spools_each=SPOOLS_EACH)
    posted, started = Posted(), time.monotonic()
    with serve("tests.benches.books_wsgi", workers=asked.workers) as (port, master):
        done = threading.Event()
        killer = threading.Thread(target=_kill, args=(master, asked.kills, random.Random(asked.seed), done, posted))
        killer.start()
        with ThreadPoolExecutor(asked.clients) as clients:
            bodies = _bodies(skus[:SKUS], rng=random.Random(asked.seed), orders=asked.orders)
            list(clients.map(lambda body: _post_until_acknowledged(port, token, body, posted), bodies))
        done.set()
        killer.join()
    _report(posted, seconds=time.monotonic() - started, asked=asked)


def _bodies(skus: list[str], *, rng: random.Random, orders: int) -> Iterator[dict[str, object]]:
    for number in range(orders):
        lines = [{"sku": sku, "quantity": rng.randint(1, 5)} for sku in rng.sample(skus, rng.randint(1, 4))]
        yield {"channel": CHANNEL, "reference": f"K-{number}", "lines": lines}


def _post_until_acknowledged(port: int, token: str, body: dict[str, object], posted: Posted) -> None:
    reference = str(body["reference"])
    headers = {"Content-Type": "application/json", "Authorization": f"Bearer {token}"}
    if int(reference[2:]) % 2:
        headers["Idempotency-Key"] = f'"{reference}"'
    for attempt in range(MOST_TRIES):
        posted.tries += 1
        status, text = _try(port, json.dumps(body).encode(), headers)
        if status in (200, 201):
            rows = json.loads(text)["lines"]
            posted.orders[reference] = {row["sku"]: row["quantity"] for row in rows}
            return
        if status not in (None, *RETRIED):
            raise RuntimeError(f"{reference}: {status} {text[:500]}")
        time.sleep(min(0.05 * (attempt + 1), 1.0))
    raise RuntimeError(f"{reference} was not acknowledged after {MOST_TRIES} tries.")


def _try(port: int, body: bytes, headers: dict[str, str]) -> tuple[int | None, str]:
    """Status and text; no status where the server died under the request."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    try:
        connection.request("POST", "/api/v1/orders/", body, headers)
        answer = connection.getresponse()
        return answer.status, answer.read().decode()
    except (OSError, http.client.HTTPException):
        return None, ""
    finally:
        connection.close()


def _kill(master: int, kills: int, rng: random.Random, done: threading.Event, posted: Posted) -> None:
    while sum(posted.kills.values()) < kills and not done.wait(SECONDS_BETWEEN_KILLS):
        kind = rng.choice(("worker", "worker", "database"))
        if (victims := _workers(master) if kind == "worker" else _backends()) and _is_killed(rng.choice(victims)):
            posted.kills[kind] += 1


def _is_killed(pid: int) -> bool:
    try:
        os.kill(pid, signal.SIGKILL)
    except ProcessLookupError:
        return False
    return True


def _workers(master: int) -> list[int]:
    children = Path(f"/proc/{master}/task/{master}/children").read_text(encoding="ascii").split()
    return [int(pid) for pid in children]


def _backends() -> list[int]:
    """Server processes of the clients' connections; none on SQLite, which has no server."""
    from django.conf import settings

    if settings.DATABASES["default"]["ENGINE"] != "django.db.backends.postgresql":
        return []
    import psycopg

    try:
        with psycopg.connect(os.environ["DATABASE_URL"], connect_timeout=5, autocommit=True) as own:
            for _ in range(MOST_LOOKS):
                if rows := own.execute(CLIENT_BACKENDS).fetchall():
                    return [pid for (pid,) in rows]
            return []
    except psycopg.OperationalError:
        return []


def _report(posted: Posted, *, seconds: float, asked: argparse.Namespace) -> None:
    from django.db import connection

    # The database may have died under the connection that filled it.
    connection.close()
    faults = list(_faults(posted))
    killed = ", ".join(f"{count} times a {kind}" for kind, count in posted.kills.items())
    print(f"{len(posted.orders)} orders on {SKUS} SKUs from {asked.clients} clients through {asked.workers} workers")
    print(f"{connection.vendor}; {machine()}")
    print(f"kill -9: {killed}; {posted.tries} tries in {seconds:.0f} s, {len(posted.orders) / seconds:.0f} orders/s")
    print("\n".join(faults) or "The auditor found every acknowledged order once and whole, and the books right.")
    sys.exit(bool(faults))


def _faults(posted: Posted) -> Iterator[str]:
    from django.utils import timezone

    from inventory.models import Balance, OrderLine, ShelfStock
    from inventory.rules.clock import Clock
    from inventory.selectors.check import check_books
    from inventory.services.rebuild import Rebuilt, rebuild_balances

    stored: dict[str, dict[str, int]] = {}
    for reference, sku, quantity in OrderLine.objects.values_list("order__reference", "sku__item__code", "quantity"):
        stored.setdefault(reference, {})[sku] = quantity
    for reference in sorted(stored.keys() | posted.orders.keys()):
        if stored.get(reference) != posted.orders.get(reference):
            yield f"{reference}: acknowledged {posted.orders.get(reference)}, stored {stored.get(reference)}"
    yield from (f"oversold: {row}" for row in ShelfStock.objects.all() if row.allocated > row.on_shelf)
    yield from (str(fault) for fault in check_books())
    before = list(Balance.objects.order_by("pk").values_list())
    rebuilt = rebuild_balances(clock=Clock.at(timezone.now()))
    if rebuilt != Rebuilt(0, 0, 0) or list(Balance.objects.order_by("pk").values_list()) != before:
        yield f"a rebuild changed the balances: {rebuilt}"


if __name__ == "__main__":
    main()
