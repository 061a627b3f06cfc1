"""Write the plant that is in the database as files; loaded again and dumped, they are the same byte for byte."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.db import transaction

from inventory.errors import ConflictError, InvalidInputError
from inventory.models import Balance, CartSpools, Item, Run, Sku
from inventory.plant_files.canonical import sort_key
from inventory.plant_files.columns import FileSchema
from inventory.plant_files.dump_orders import order_rows
from inventory.plant_files.progress import Progress, no_progress
from inventory.plant_files.records import MODEL_OF
from inventory.plant_files.schema import FILE_BY_NAME, PLANT_FILES
from inventory.plant_files.schema_books import OPENING_STOCK, ORDERS
from inventory.plant_files.schema_catalogue import ITEMS, SKUS
from inventory.plant_files.schema_plant import PARAMETER_KEYS, PARAMETERS
from inventory.plant_files.table import write_table
from inventory.selectors.plant import parameters

Rows = Iterable[Mapping[str, Any]]


class FilesInTheWayError(ConflictError):
    """The folder holds files of a plant already."""

    code = "files_in_the_way"


@dataclass(frozen=True)
class DumpReport:
    """What was written, and in sentences what the files cannot hold."""

    rows: Mapping[str, int]
    left_out: tuple[str, ...]


# One transaction: the files agree with each other while others go on booking.
@transaction.atomic
def dump_plant(directory: Path, *, progress: Progress = no_progress) -> DumpReport:
    """Write all files of the plant into a folder that holds none of them yet.

    `opening_stock.csv` gets the present balances of physical places, `orders.csv` all orders with what came of them.
    About thirty queries.

    Raises
    ------
    NotFoundError
        If no plant is loaded.
    FilesInTheWayError
        If a file of a plant is there already.
    InvalidInputError
        If the folder cannot be made.
    """
    plant = parameters()
    _prepare(directory)
    writers: Mapping[str, Callable[[], Rows]] = {
        PARAMETERS.name: lambda: [
            {"key": column.name, "value": getattr(plant, column.name)} for column in PARAMETER_KEYS
        ],
        SKUS.name: _sku_rows,
        OPENING_STOCK.name: _stock_rows,
        ORDERS.name: order_rows,
    }
    counts = {}
    for number, schema in enumerate(PLANT_FILES):
        progress("writing files", number, len(PLANT_FILES))
        rows = writers[schema.name]() if schema.name in writers else _plain_rows(schema)
        counts[schema.name] = write_table(directory / schema.name, schema, rows)
    progress("writing files", len(PLANT_FILES), len(PLANT_FILES))
    return DumpReport(rows=counts, left_out=tuple(_left_out()))


def _prepare(directory: Path) -> None:
    try:
        directory.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InvalidInputError(
            "{directory} cannot be used as a folder: {strerror}.", directory=directory, strerror=error.strerror
        ) from error
    for name in FILE_BY_NAME:
        if (directory / name).exists():
            raise FilesInTheWayError(
                "{directory} is there already; dump into an empty folder.", directory=directory / name
            )


def _plain_rows(schema: FileSchema) -> Rows:
    """Rows of a file in which a row is one record, sorted by the key here: databases sort text by other rules."""
    paths = [_path(schema, name) for name in schema.header]
    records = MODEL_OF[schema.name]._default_manager.order_by()
    if schema is ITEMS:
        records = records.exclude(kind=Item.Kind.SKU)
    rows = [dict(zip(schema.header, values, strict=True)) for values in records.values_list(*paths)]
    return sorted(rows, key=lambda row: sort_key(row, schema))


def _path(schema: FileSchema, name: str) -> str:
    target = schema.column(name).refers_to
    return f"{name}__{FILE_BY_NAME[target].key[0]}" if target else name


def _sku_rows() -> Rows:
    paths = {"code": "item__code", "name": "item__name"}
    fields = [paths.get(name) or _path(SKUS, name) for name in SKUS.header]
    rows = [dict(zip(SKUS.header, values, strict=True)) for values in Sku.objects.order_by().values_list(*fields)]
    return sorted(rows, key=lambda row: sort_key(row, SKUS))


def _stock_rows() -> Rows:
    """Balances in the order in which lots are used, which the loader keeps."""
    balances = Balance.objects.filter(is_physical=True, quantity__gt=0).order_by(
        "lot__created_at", "lot_id", "place_id"
    )
    for balance in balances.select_related("lot", "item", "place__oven"):
        yield {
            "item": balance.item.code,
            "place": balance.place.oven.code if balance.place.oven else balance.place.kind,
            "lot": balance.lot.code,
            "supplier_lot": balance.lot.supplier_lot,
            "quantity": balance.quantity,
        }


def _left_out() -> list[str]:
    sentences = [
        "Movements, shipments and allocations are not part of the files: stock goes out as it lies now, "
        "orders with what came of them, and loading promises the open ones anew.",
    ]
    if runs := Run.objects.filter(state__in=[Run.State.RELEASED, Run.State.STARTED]).count():
        sentences.append(f"{runs} released or started runs are not part of the files, nor what they were to make.")
    waiting = Balance.objects.filter(
        place__kind__in=["wound", "oven", "packing"], quantity__gt=0, lot__run__isnull=False
    )
    if lots := waiting.count():
        sentences.append(f"{lots} lots on their way to the shelf go out without their run; those in ovens dry anew.")
    if carts := CartSpools.objects.values("cart").distinct().count():
        sentences.append(f"Carts go out empty: what stands on {carts} of them lies where the books have it.")
    return sentences
