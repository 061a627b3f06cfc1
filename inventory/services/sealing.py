"""Sealing the ledger in batches. Nothing here waits for a posting, and no posting waits for it."""

from __future__ import annotations

from datetime import datetime

from django.db import IntegrityError, transaction

from inventory.errors import ConflictError
from inventory.models import LedgerSeal, Movement
from inventory.rules.seals import NO_SEAL_BEFORE, SealBody, merkle_root, missing_ranges, movement_leaf
from inventory.selectors.seals import late_movement_ids, sealed_movements

BATCH_SIZE = 10_000


class SealedMeanwhileError(ConflictError):
    """Another process wrote the next seal first."""

    code = "sealed_meanwhile"


def seal_ledger(*, sealed_at: datetime, batch_size: int = BATCH_SIZE) -> list[LedgerSeal]:
    """Seal every movement that is not sealed yet, in batches. Returns the new seals, none where nothing was new.

    It reads outside of any transaction and writes one row a batch, so it takes no lock that a posting needs. A
    movement that has its id but is not committed yet is noted as open and sealed by a later call.

    Raises
    ------
    SealedMeanwhileError
        If another process sealed at the same time; what this one sealed before stays.
    """
    seals = []
    while (seal := _seal_batch(sealed_at=sealed_at, batch_size=batch_size)) is not None:
        seals.append(seal)
    return seals


def _seal_batch(*, sealed_at: datetime, batch_size: int) -> LedgerSeal | None:
    last = LedgerSeal.objects.order_by("-number").first()
    first_id = 1 if last is None else last.last_id + 1
    new_ids = list(Movement.objects.filter(pk__gte=first_id).order_by("pk").values_list("pk", flat=True)[:batch_size])
    late_ids = late_movement_ids()
    if not new_ids and not late_ids:
        return None
    last_id = new_ids[-1] if new_ids else first_id - 1
    leaves = [movement_leaf(movement) for movement in sealed_movements([*late_ids, *new_ids])]
    body = SealBody(
        number=1 if last is None else last.number + 1,
        first_id=first_id,
        last_id=last_id,
        open_ranges=missing_ranges(new_ids, first_id=first_id, last_id=last_id),
        late_ids=late_ids,
        root=merkle_root(leaves),
        previous_hash=NO_SEAL_BEFORE if last is None else last.seal_hash,
        sealed_at=sealed_at,
    )
    return _write(body)


def _write(body: SealBody) -> LedgerSeal:
    seal = LedgerSeal(
        number=body.number,
        first_id=body.first_id,
        last_id=body.last_id,
        open_ranges=[list(ids) for ids in body.open_ranges],
        late_ids=list(body.late_ids),
        root=body.root,
        previous_hash=body.previous_hash,
        seal_hash=body.hash,
        sealed_at=body.sealed_at,
    )
    try:
        with transaction.atomic():
            seal.save(force_insert=True)
    except IntegrityError as error:
        if LedgerSeal.objects.filter(number=body.number).exists():
            raise SealedMeanwhileError(
                "Seal {number} was written by another process; try again.", number=body.number
            ) from error
        raise
    return seal
