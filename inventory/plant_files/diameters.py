"""The readings of a diameter gauge as a CSV file."""

from __future__ import annotations

from pathlib import Path

from inventory.plant_files.columns import Column, FileSchema, Kind
from inventory.plant_files.faults import FaultList
from inventory.plant_files.table import Row, read_table, table_of
from inventory.rules.diameter import DiameterPair, reading_fault

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


def read_diameters(path: Path) -> list[DiameterPair]:
    """Read the file of a gauge.

    Raises
    ------
    PlantFileError
        With line and column of each fault.
    """
    return _pairs(read_table(path, GAUGE_SCHEMA))


def diameters_of(content: bytes, *, name: str) -> list[DiameterPair]:
    """Read the content of a gauge's file of that name.

    Raises
    ------
    PlantFileError
        With line and column of each fault.
    """
    return _pairs(table_of(content, GAUGE_SCHEMA, name=name))


def _pairs(table: tuple[list[Row], FaultList]) -> list[DiameterPair]:
    rows, faults = table
    for row in rows:
        for axis, value in row.values.items():
            if value is not None and (fault := reading_fault(value)):
                faults.add(row.line, axis, fault)
    faults.refuse()
    return [(row.values["x_mm"], row.values["y_mm"]) for row in rows]
