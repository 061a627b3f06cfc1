"""Where the spools that somebody carries come from: of a run or lot that is named, or the oldest ones."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from inventory.errors import InvalidInputError, NotFoundError
from inventory.models import Lot, Place, Sku
from inventory.rules.clock import Clock
from inventory.rules.fifo import LotStock, take_fifo
from inventory.rules.texts import Text, text
from inventory.services.allocations import lock_supply
from inventory.services.balances import lock_lots
from inventory.services.ledger import LineDraft, NotEnoughStockError
from inventory.services.lookup import skus_by_code
from inventory.services.run_records import MOST_SPOOLS

SpoolSpec = tuple[str | None, str, int]
"""Code of a run or lot (None: the oldest), SKU code, number of spools."""


@dataclass(frozen=True)
class NamedSpools:
    """Spools of a request, their records found."""

    source: str | None
    sku: Sku
    lot: Lot | None
    spools: int


def named_spools(specs: Sequence[SpoolSpec]) -> list[NamedSpools]:
    """Find the records that a request names. Two queries, whatever the number of rows.

    Raises
    ------
    InvalidInputError
        If nothing is named or a number is not 1 to `MOST_SPOOLS`.
    NotFoundError
        If a SKU does not exist, or there is no such lot or run with spools of it.
    """
    if not specs:
        raise InvalidInputError("No spools are named.", pointer="/spools")
    for row, (_, code, spools) in enumerate(specs):
        if not 1 <= spools <= MOST_SPOOLS:
            raise InvalidInputError(
                "{spools} spools of {code}: 1 to {most} are allowed.",
                spools=spools,
                code=code,
                most=MOST_SPOOLS,
                pointer=f"/spools/{row}/quantity",
            )
    skus = skus_by_code([code for _, code, _ in specs], pointer="/spools")
    lots = _lots({source for source, _, _ in specs if source is not None})
    named = []
    for row, (source, code, spools) in enumerate(specs):
        lot = None if source is None else lots.get((source, skus[code].pk))
        if source is not None and lot is None:
            raise NotFoundError(
                "There is no run or lot {source!r} with spools of {code}.",
                source=source,
                code=code,
                pointer=f"/spools/{row}/source",
            )
        named.append(NamedSpools(source=source, sku=skus[code], lot=lot, spools=spools))
    return named


def _lots(sources: set[str]) -> dict[tuple[str, int], Lot]:
    """Lots by the code of the lot or of its run, and SKU."""
    by_source: dict[tuple[str, int], Lot] = {}
    for lot in Lot.objects.filter(run__code__in=sources).select_related("run"):
        if lot.run is not None:
            by_source[(lot.run.code, lot.item_id)] = lot
    for lot in Lot.objects.filter(code__in=sources):
        by_source[(lot.code, lot.item_id)] = lot
    return by_source


@dataclass
class SpoolStock:
    """Spools at some places, locked; what is taken of them is gone for the next row of the request."""

    by_sku: dict[int, list[LotStock]]

    def take(self, spec: NamedSpools, *, place_ids: Iterable[int]) -> tuple[list[LotStock], int]:
        """Take the spools of one row, places in the order given; returns the parts and how many are missing."""
        rank = {place_id: number for number, place_id in enumerate(place_ids)}
        stock = self.by_sku.get(spec.sku.pk, [])
        usable = [row for row in stock if row.place_id in rank and (spec.lot is None or row.lot_id == spec.lot.pk)]
        take = take_fifo(usable, Decimal(spec.spools))
        taken = {(part.place_id, part.lot_id): part.quantity for part in take.parts}
        self.by_sku[spec.sku.pk] = [
            LotStock(row.place_id, row.lot_id, row.quantity - taken.get((row.place_id, row.lot_id), Decimal(0)))
            for row in stock
        ]
        return list(take.parts), int(take.shortfall)


def lock_spools(named: Sequence[NamedSpools], *, places: Sequence[Place], clock: Clock) -> SpoolStock:
    """Lock the SKUs and their spools at some places, as ledger.py orders."""
    sku_ids = {spec.sku.pk for spec in named}
    lock_supply(sku_ids=sku_ids, clock=clock)
    return SpoolStock(by_sku=lock_lots(item_ids=sku_ids, places=places, clock=clock))


def spool_lines(
    spec: NamedSpools, parts: Iterable[LotStock], *, places: dict[int, Place], to: Place
) -> list[LineDraft]:
    """Lines that carry the parts taken for one row to a place."""
    return [LineDraft(spec.sku.pk, part.lot_id, part.quantity, places[part.place_id], to) for part in parts]


def too_few_spools(spec: NamedSpools, *, row: int, there: Text) -> NotEnoughStockError:
    """The error for a row that names more spools than there are."""
    sku = spec.sku.item.code
    return NotEnoughStockError(
        "{what}: {spools} named, {there}.",
        what=sku if spec.source is None else text("{sku} of {source}", sku=sku, source=spec.source),
        spools=spec.spools,
        there=there,
        pointer=f"/spools/{row}/quantity",
    )
