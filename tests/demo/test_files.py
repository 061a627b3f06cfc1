"""The demo as files: the same bytes twice, never over another plant."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from inventory.plant_files.schema import FILE_BY_NAME
from stockplan.demo.generate import DemoPlant, build_demo_plant, write_demo_plant


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


def test_write_demo_plant_gives_the_same_bytes_twice(tmp_path: Path) -> None:
    write_demo_plant(tmp_path / "first")
    write_demo_plant(tmp_path / "second")
    assert contents(tmp_path / "first") == contents(tmp_path / "second")


def test_build_demo_plant_gives_other_orders_for_another_seed(plant: DemoPlant) -> None:
    other = build_demo_plant(seed=7)
    assert not other.tables["orders.csv"].equals(plant.tables["orders.csv"])


def test_write_demo_plant_writes_the_files_and_headers_of_the_schema(plant: DemoPlant) -> None:
    headers = {name: list(table.columns) for name, table in plant.tables.items()}
    expected = {
        name: [c.name for c in schema.columns if not c.may_be_absent or c.name in headers[name]]
        for name, schema in FILE_BY_NAME.items()
    }
    assert headers == expected
    assert "desiccant_item" in headers["spool_sizes.csv"]


def test_build_demo_plant_ends_on_the_last_day_it_was_given() -> None:
    other = build_demo_plant(last_day=date(2026, 9, 30))
    received = other.tables["orders.csv"]["received_at"].str[:10]
    assert (received.min(), received.max()) == ("2024-10-03", "2026-09-30")


def test_make_demo_plant_refuses_a_folder_that_holds_a_plant(tmp_path: Path) -> None:
    (tmp_path / "skus.csv").write_text("code\n")
    with pytest.raises(CommandError, match=r"holds skus\.csv already"):
        call_command("make_demo_plant", str(tmp_path))
    assert contents(tmp_path) == {"skus.csv": b"code\n"}


def test_make_demo_plant_names_a_day_that_is_none(tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="write a day as 2027-02-14"):
        call_command("make_demo_plant", str(tmp_path / "new"), "--last-day", "14.2.2027")
    assert not (tmp_path / "new").exists()
