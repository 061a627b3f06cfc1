"""The ledger held against its seals."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Q

from inventory.models import LedgerSeal, Movement, MovementLine
from inventory.rules.seals import (
    NO_SEAL_BEFORE,
    IdRange,
    SealedLine,
    SealedMovement,
    covered_ids,
    merkle_root,
    movement_leaf,
)

MOST_NAMED = 10
RANGES_A_QUERY = 200
# In the order of the fields of SealedLine.
_LINE_FACTS = ("item_id", "lot_id", "quantity", "from_place_id", "to_place_id", "shipment_line_id")


@dataclass(frozen=True)
class SealFault:
    """A seal that does not hold, and why."""

    number: int
    message: str

    def __str__(self) -> str:
        return f"seal {self.number}: {self.message}"


@dataclass(frozen=True)
class SealCheck:
    """What was found when the ledger was held against its seals.

    Attributes
    ----------
    seals, movements : int
        Seals, and movements that they cover.
    unsealed : int
        Movements that no seal covers yet.
    last_hash : str
        Hash of the last seal, to be noted outside the database.
    """

    seals: int
    movements: int
    unsealed: int
    last_hash: str
    faults: tuple[SealFault, ...]


class _LeftOpen:
    """The ids that the seals so far have left open."""

    def __init__(self) -> None:
        self._ranges: list[IdRange] = []
        self._sealed_late: set[int] = set()

    def add(self, seal: LedgerSeal) -> None:
        """Take note of one more seal."""
        self._ranges += seal.body.open_ranges
        self._sealed_late.update(seal.late_ids)

    def __contains__(self, pk: int) -> bool:
        return pk not in self._sealed_late and any(first <= pk <= last for first, last in self._ranges)

    def arrived(self) -> tuple[int, ...]:
        """Those of them that movements have by now, rising. One query for each 200 ranges."""
        found: set[int] = set()
        for start in range(0, len(self._ranges), RANGES_A_QUERY):
            within = Q()
            for id_range in self._ranges[start : start + RANGES_A_QUERY]:
                within |= Q(pk__range=id_range)
            found.update(Movement.objects.filter(within).values_list("pk", flat=True))
        return tuple(sorted(found - self._sealed_late))


def verify_seals(*, noted: Mapping[int, str] | None = None) -> SealCheck:
    """Compute every seal again from the ledger and compare. Three queries a seal.

    Parameters
    ----------
    noted : mapping of seal number to hash
        Hashes that were noted outside the database. Only these give away somebody who rewrote all seals after
        changing the ledger.
    """
    faults: list[SealFault] = []
    previous, expected_number, first_id, covered = NO_SEAL_BEFORE, 1, 1, 0
    left_open = _LeftOpen()
    for seal in LedgerSeal.objects.order_by("number").iterator():
        faults += _chain_faults(seal, number=expected_number, previous=previous, first_id=first_id)
        faults += _late_faults(seal, left_open)
        present, found = _content_faults(seal)
        faults += found
        covered += present
        left_open.add(seal)
        previous, expected_number, first_id = seal.seal_hash, seal.number + 1, seal.last_id + 1
    faults += _noted_faults(noted or {})
    return SealCheck(
        seals=expected_number - 1,
        movements=covered,
        unsealed=Movement.objects.filter(pk__gte=first_id).count() + len(left_open.arrived()),
        last_hash=previous,
        faults=tuple(faults),
    )


def late_movement_ids() -> tuple[int, ...]:
    """Return the ids that seals left open, that have come since, and that no later seal covers. Rising."""
    left_open = _LeftOpen()
    for seal in LedgerSeal.objects.order_by("number").iterator():
        left_open.add(seal)
    return left_open.arrived()


def sealed_movements(ids: Sequence[int]) -> list[SealedMovement]:
    """Return the movements of these ids that exist, in the order given. Two queries."""
    lines: dict[int, list[SealedLine]] = defaultdict(list)
    rows = MovementLine.objects.filter(movement_id__in=ids).order_by("pk")
    for line in rows.values_list("movement_id", "id", *_LINE_FACTS):
        lines[line[0]].append(SealedLine(*line[1:]))
    found = Movement.objects.filter(pk__in=ids).in_bulk()
    return [_sealed(found[pk], tuple(lines[pk])) for pk in ids if pk in found]


def _sealed(movement: Movement, lines: tuple[SealedLine, ...]) -> SealedMovement:
    return SealedMovement(
        id=movement.pk,
        kind=movement.kind,
        occurred_at=movement.occurred_at,
        known_at=movement.known_at,
        posted_by_id=movement.posted_by_id,
        reason=movement.reason,
        document=movement.document,
        run_id=movement.run_id,
        reverses_id=movement.reverses_id,
        lines=lines,
    )


def _chain_faults(seal: LedgerSeal, *, number: int, previous: str, first_id: int) -> Iterator[SealFault]:
    if seal.number != number:
        yield SealFault(seal.number, f"seal {number} is missing before it")
    if seal.previous_hash != previous:
        yield SealFault(seal.number, "it does not follow the seal before it")
    if seal.first_id != first_id:
        yield SealFault(seal.number, f"it begins at movement {seal.first_id}, not at {first_id}")
    if seal.seal_hash != seal.body.hash:
        yield SealFault(seal.number, "its hash is not that of its content")


def _late_faults(seal: LedgerSeal, left_open: _LeftOpen) -> Iterator[SealFault]:
    if never := [pk for pk in seal.late_ids if pk not in left_open]:
        yield SealFault(seal.number, f"it seals movement {_named(never)}, which no earlier seal left open")


def _content_faults(seal: LedgerSeal) -> tuple[int, list[SealFault]]:
    """How many movements are there, and what is wrong with them."""
    body = seal.body
    own = covered_ids(first_id=body.first_id, last_id=body.last_id, open_ranges=body.open_ranges)
    wanted = [*body.late_ids, *own]
    movements = sealed_movements(wanted)
    if missing := sorted(set(wanted) - {movement.id for movement in movements}):
        return len(movements), [SealFault(seal.number, f"movement {_named(missing)} is missing")]
    if merkle_root([movement_leaf(movement) for movement in movements]) != seal.root:
        where = f"a movement from {seal.first_id} to {seal.last_id} was changed since it was sealed"
        return len(movements), [SealFault(seal.number, where)]
    return len(movements), []


def _noted_faults(noted: Mapping[int, str]) -> Iterator[SealFault]:
    hashes = dict(LedgerSeal.objects.filter(number__in=noted).values_list("number", "seal_hash"))
    for number, noted_hash in sorted(noted.items()):
        if number not in hashes:
            yield SealFault(number, "it was noted, but is not there")
        elif hashes[number] != noted_hash:
            yield SealFault(number, f"its hash is {hashes[number]}, but {noted_hash} was noted")


def _named(ids: Sequence[int]) -> str:
    more = f" and {len(ids) - MOST_NAMED} more" if len(ids) > MOST_NAMED else ""
    return ", ".join(map(str, ids[:MOST_NAMED])) + more
