"""Every working page at some 2,000 SKUs and two years of orders: server time, queries and bytes, and the search.

`python -m tests.benches.bench_pages` builds the plant in a database of its own, which takes minutes; with DATABASE_URL
set it reads that (loaded) database. A page is asked through Django's own client, so the figure is the whole answer
without the network: the median of five after one to warm up. On SQLite the database works in this process, so that its
CPU time is what the page takes on a machine that does nothing else; the clock stands beside it. Limits: 300 ms, 40
queries, 200 kB; the search 150 ms.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import time
from dataclasses import dataclass
from decimal import Decimal
from functools import reduce
from pathlib import Path

import django
from django.test import Client

from tests.benches.machine import machine

MOST_MS, MOST_SEARCH_MS, MOST_QUERIES, MOST_KB = 300, 150, 40, 200
TIMES = 5
SEARCHES = ("gasket", "petg black 1", "gaskte", "9526413000846", "pla 2.85 750")


@dataclass(frozen=True)
class Answer:
    """What one page took."""

    path: str
    most_ms: int
    cpu_ms: float
    clock_ms: float
    queries: int
    kilobytes: float

    @property
    def is_short(self) -> bool:
        """Tell whether it is beyond a limit."""
        return self.cpu_ms > self.most_ms or self.queries > MOST_QUERIES or self.kilobytes > MOST_KB


def main() -> None:
    """Build the plant where none is given, ask for each page, print."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "stockplan.settings")
    if "DATABASE_URL" in os.environ:
        django.setup()
        return report(answers())
    with tempfile.TemporaryDirectory() as folder:
        os.environ["DATABASE_URL"] = f"sqlite:///{folder}/pages.sqlite3"
        django.setup()
        fill_database(Path(folder) / "plant")
        return report(answers())


def fill_database(folder: Path) -> None:
    """Load the wide plant up to yesterday, finish some runs, count some shelves, compute what to buy and two lists."""
    from datetime import timedelta

    from django.core.management import call_command
    from django.utils import timezone

    from tests.benches.wide_plant import write_wide_plant

    write_wide_plant(folder, last_day=timezone.localdate() - timedelta(days=1))
    with Path(os.devnull).open("w") as quiet:
        call_command("migrate", verbosity=0)
        call_command("load_plant", folder, stdout=quiet, stderr=quiet)
        finish_runs(60)
        open_sheet(50)
        call_command("purchases", stdout=quiet)
        # Two, for the page tells what changed since the list before.
        for _ in range(2):
            call_command("make_list", stdout=quiet)


def open_sheet(count: int) -> None:
    """Open a sheet of so many SKUs to count."""
    from django.utils import timezone

    from inventory.models import Sku
    from inventory.rules.clock import Clock
    from inventory.services.counting import open_count_sheet

    codes = list(Sku.objects.order_by("item__code").values_list("item__code", flat=True)[:count])
    open_count_sheet(sku_codes=codes, shelf_places=[], tolerance_share=Decimal(0), clock=Clock.at(timezone.now()))


def finish_runs(count: int) -> None:
    """Finish so many runs of ten spools, one an hour up to now, each ten minutes slower than planned."""
    from datetime import timedelta

    from django.utils import timezone

    from inventory.models import LineSpeed, Sku
    from inventory.rules.clock import Clock
    from inventory.services.runs import finish_run, release_run, start_run

    skus = {sku.filament_id: sku.item.code for sku in Sku.objects.select_related("item")}
    speeds = LineSpeed.objects.filter(filament__in=skus).select_related("line", "filament")
    for number, speed in enumerate(speeds.order_by("filament__code", "line__code")[: 4 * count : 4]):
        sku, start = skus[speed.filament_id], timezone.now() - timedelta(hours=count - number)
        planned = {"planned_start": start, "planned_end": start + timedelta(minutes=30), "clock": Clock.at(start)}
        made = {"filament_code": speed.filament.code, "line_code": speed.line.code, "spools": {sku: 10}}
        run = release_run(**made, **planned)
        start_run(run_code=run.code, clock=Clock.at(start))
        done = Clock.at(start + timedelta(minutes=40))
        finish_run(
            run_code=run.code, good={sku: 10}, scrap={sku: 1}, real_minutes=Decimal(40), purge_kg=Decimal(0), clock=done
        )


def answers() -> list[Answer]:
    """Ask for every working page and for some searches, as somebody who may see all of them."""
    from django.contrib.auth.models import User

    User.objects.filter(username="bench").delete()
    client = Client(SERVER_NAME="127.0.0.1")
    client.force_login(User.objects.create_superuser("bench"), backend="django.contrib.auth.backends.ModelBackend")
    searches = [f"/admin/stock/?q={words.replace(' ', '+')}" for words in SEARCHES]
    return [measured(client, path, MOST_MS) for path in paths()] + [
        measured(client, path, MOST_SEARCH_MS) for path in searches
    ]


def paths() -> list[str]:
    """Return the addresses of all working pages, each with a record of this plant."""
    from inventory.models import CountSheet, Lot, Order
    from tests.pages.shown_plant import WORKING_PATHS

    named = {
        "{order}": str(Order.objects.filter(state="open").values_list("pk", flat=True).first()),
        "{sheet}": str(CountSheet.objects.values_list("code", flat=True).first()),
        "OPEN-PLA-BLACK-1000": Lot.objects.values_list("code", flat=True)[0],
        "PLA-BLACK-1.75": "PLA-GAS-175",
        "PLA-BLACK-1000": "PLA-GAS-175-01000",
        "L1": "EX1",
    }
    found = []
    for path in WORKING_PATHS:
        filled = reduce(lambda text, pair: text.replace(*pair), named.items(), path)
        # Nothing is released in a plant that was just loaded, and it has no carts.
        if "{run}" not in filled and "/carts/" not in filled:
            found.append(filled)
    return found


def measured(client: Client, path: str, most_ms: int) -> Answer:
    """Ask for one page."""
    from django.db import connection, reset_queries
    from django.test.utils import CaptureQueriesContext

    # Its log is of finite length: full, it would count nothing more.
    reset_queries()
    with CaptureQueriesContext(connection) as asked:
        body = client.get(path).content
    cpu, clock = [], []
    for _ in range(TIMES):
        cpu_before, clock_before = time.process_time(), time.perf_counter()
        client.get(path)
        cpu.append(1000 * (time.process_time() - cpu_before))
        clock.append(1000 * (time.perf_counter() - clock_before))
    return Answer(path, most_ms, statistics.median(cpu), statistics.median(clock), len(asked), len(body) / 1000)


def report(found: list[Answer]) -> None:
    """Print a row a page, and fail where one is beyond a limit."""
    from inventory.models import Order, Sku

    print(f"{Sku.objects.count()} SKUs, {Order.objects.count()} orders; {machine()}")
    print(f"{'page':<44}{'CPU ms':>8}{'limit':>8}{'clock':>8}{'queries':>9}{'kB':>7}")
    for one in found:
        mark = "  short" if one.is_short else ""
        times = f"{one.cpu_ms:>8.0f}{one.most_ms:>8}{one.clock_ms:>8.0f}"
        print(f"{one.path:<44}{times}{one.queries:>9}{one.kilobytes:>7.0f}{mark}")
    sys.exit(any(one.is_short for one in found))


if __name__ == "__main__":
    main()
