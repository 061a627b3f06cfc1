"""The readings of a diameter gauge as a CSV file."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

from inventory.plant_files.columns import Column, FileSchema, Kind
from inventory.plant_files.table import read_table

GAUGE_SCHEMA = FileSchema(
    name="readings of a gauge",
    meaning="One reading of the strand; rows in the order of measuring.",
    key=(),
    columns=(
        Column(name="x_mm", kind=Kind.NUMBER, unit="mm", meaning="diameter"),
        Column(
            name="y_mm",
            kind=Kind.NUMBER,
            unit="mm",
            meaning="diameter on the other axis, square to the first",
            empty="one axis is read",
            may_be_absent=True,
        ),
    ),
)


def read_diameters(path: Path) -> list[tuple[Decimal, Decimal | None]]:
    """Read the file of a gauge.

    Raises
    ------
    PlantFileError
        With line and column of each fault.
    """
    rows, faults = read_table(path, GAUGE_SCHEMA)
    faults.refuse()
    return [(row.values["x_mm"], row.values["y_mm"]) for row in rows]
