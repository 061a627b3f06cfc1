"""One demo plant for all tests of it: building it takes a second."""

from __future__ import annotations

import pandas as pd
import pytest

from stockplan.demo.generate import DemoPlant, build_demo_plant


@pytest.fixture(scope="session")
def plant() -> DemoPlant:
    return build_demo_plant()


@pytest.fixture(scope="session")
def skus(plant: DemoPlant) -> pd.DataFrame:
    return plant.tables["skus.csv"]


@pytest.fixture(scope="session")
def rows(plant: DemoPlant, skus: pd.DataFrame) -> pd.DataFrame:
    """The order table, with the traits of its SKUs and the local clock of its orders."""
    traits = skus.merge(
        plant.tables["filaments.csv"].add_prefix("filament_"), left_on="filament", right_on="filament_code"
    )
    table = plant.tables["orders.csv"].merge(traits, left_on="sku", right_on="code", validate="many_to_one")
    local = pd.to_datetime(table["received_at"].str[:16])
    order = table["channel"] + "/" + table["reference"]
    return table.assign(local=local, day=local.dt.normalize(), order=order)


@pytest.fixture(scope="session")
def regular(rows: pd.DataFrame) -> pd.DataFrame:
    return rows[rows["kind"] == "regular"]
