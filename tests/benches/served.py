"""The invented plant behind a real server: a database filled without orders, gunicorn, and bodies to post."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np

CHANNEL = "LATTICE"


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
    token = create_token(name="bench", scopes=["orders", "stock:read"], channel_code=CHANNEL, days=1)
    shelved = set(opening.loc[opening["place"] == "shelf", "item"])
    on_sale = Sku.objects.filter(active_to=None, active_from__lt="2026-01-01").values_list("item__code", flat=True)
    return token, sorted(shelved & set(on_sale))


def order_bodies(skus: list[str], *, first: int, count: int) -> list[dict[str, object]]:
    """Orders of two lines with one spool each; the number makes the reference and draws the SKUs."""
    rng = np.random.default_rng(first)
    picked = [rng.choice(len(skus), size=2, replace=False) for _ in range(count)]
    return [
        {
            "channel": CHANNEL,
            "reference": f"BENCH-{first + number}",
            "lines": [{"sku": skus[int(n)], "quantity": 1} for n in pair],
        }
        for number, pair in enumerate(picked)
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


def cpu_s(master: int) -> float:
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
