"""What stands on labels: the spools of a run, a SKU on its shelf place."""

from __future__ import annotations

from dataclasses import dataclass

from inventory.errors import NotFoundError
from inventory.models import RunOutput, Sku


class NothingToLabelError(NotFoundError):
    """There is no such run or SKU."""

    code = "nothing_to_label"


@dataclass(frozen=True)
class SkuLabel:
    """What a label says of a SKU; `spools` of it come from a run, none on its shelf place."""

    sku_code: str
    name: str
    gtin: str | None
    net_g: int
    shelf_place: str
    spools: int


_FIELDS = ("sku__item__code", "sku__item__name", "sku__gtin", "sku__spool_size__net_g", "sku__shelf_place")


def spool_labels(run_code: str) -> list[SkuLabel]:
    """Return what the labels of a run's spools say, by net mass: good spools once it is finished, planned before.

    One query.

    Raises
    ------
    NothingToLabelError
        If there is no such run.
    """
    outputs = RunOutput.objects.filter(run__code=run_code).order_by("sku__spool_size__net_g", "sku__item__code")
    rows = list(outputs.values_list(*_FIELDS, "planned", "good"))
    if not rows:
        raise NothingToLabelError("There is no run {run}.", run=run_code)
    return [
        SkuLabel(code, name, gtin, net_g, place, spools=planned if good is None else good)
        for code, name, gtin, net_g, place, planned, good in rows
    ]


def shelf_label(sku_code: str) -> SkuLabel:
    """Return what the label of a shelf place says. One query.

    Raises
    ------
    NothingToLabelError
        If there is no such SKU.
    """
    fields = [field.removeprefix("sku__") for field in _FIELDS]
    row = Sku.objects.filter(item__code=sku_code).values_list(*fields).first()
    if row is None:
        raise NothingToLabelError("There is no SKU {sku}.", sku=sku_code)
    code, name, gtin, net_g, place = row
    return SkuLabel(code, name, gtin, net_g, place, spools=0)
