"""Seals of the ledger: a Merkle tree over the movements of a batch, chained to the seal before. Pure.

Whoever changes, takes away or slips in a movement would have to change the root of its batch and every seal after it;
the hash of the last seal, noted outside the database, gives that away.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from decimal import Decimal
from itertools import pairwise

NO_SEAL_BEFORE = "0" * 64
_LEAF, _NODE = b"\x00", b"\x01"

IdRange = tuple[int, int]
"""First and last id, both included."""


@dataclass(frozen=True)
class SealedLine:
    """One line of a movement, by the ids of what it names."""

    id: int
    item_id: int
    lot_id: int
    quantity: Decimal
    from_place_id: int
    to_place_id: int
    shipment_line_id: int | None


@dataclass(frozen=True)
class SealedMovement:
    """All that the ledger says of one movement; lines in the order of their ids."""

    id: int
    kind: str
    occurred_at: datetime
    known_at: datetime
    posted_by_id: int | None
    reason: str
    document: str
    run_id: int | None
    reverses_id: int | None
    lines: tuple[SealedLine, ...]


@dataclass(frozen=True)
class SealBody:
    """What the hash of a seal covers.

    Attributes
    ----------
    number : int
        1 for the first seal.
    first_id, last_id : int
        The ids that this seal answers for, both included.
    open_ranges : tuple of IdRange
        Ids between them that no movement had when the batch was sealed: given up, or not yet committed.
    late_ids : tuple of int
        Ids that an earlier seal left open and that have come since; sealed here, before the others.
    root : str
        Merkle root over the movements, in hexadecimal.
    previous_hash : str
        Hash of the seal before; 64 zeros for the first.
    """

    number: int
    first_id: int
    last_id: int
    open_ranges: tuple[IdRange, ...]
    late_ids: tuple[int, ...]
    root: str
    previous_hash: str
    sealed_at: datetime

    @property
    def hash(self) -> str:
        """SHA-256 of the body, in hexadecimal."""
        return hashlib.sha256(_canonical(asdict(self))).hexdigest()


def movement_leaf(movement: SealedMovement) -> bytes:
    """Return the leaf of a movement: all of its facts in one form that the database cannot vary.

    JSON with sorted keys and no blanks, instants in UTC to the microsecond, quantities to the gram.
    """
    return _canonical(asdict(movement))


def merkle_root(leaves: Sequence[bytes]) -> str:
    """Return the root of the Merkle tree over the leaves, in hexadecimal.

    A leaf is SHA-256(0x00 || leaf), a node SHA-256(0x01 || left || right); the left subtree of n leaves has the
    largest power of two below n. No leaves: SHA-256 of nothing.

    References
    ----------
    RFC 6962 (Certificate Transparency), section 2.1.

    Examples
    --------
    >>> merkle_root([])[:16]
    'e3b0c44298fc1c14'
    """
    if not leaves:
        return hashlib.sha256().hexdigest()
    level = [hashlib.sha256(_LEAF + leaf).digest() for leaf in leaves]
    while len(level) > 1:
        # Joining neighbours and passing an odd last one up gives the same tree as the recursive split.
        joined = [hashlib.sha256(_NODE + level[i] + level[i + 1]).digest() for i in range(0, len(level) - 1, 2)]
        level = joined + level[len(level) - len(level) % 2 :]
    return level[0].hex()


def missing_ranges(present: Sequence[int], *, first_id: int, last_id: int) -> tuple[IdRange, ...]:
    """Return the ids of a range that are not among those present, which rise.

    Examples
    --------
    >>> missing_ranges([3, 6], first_id=3, last_id=7)
    ((4, 5), (7, 7))
    """
    ends = [first_id - 1, *present, last_id + 1]
    return tuple((before + 1, after - 1) for before, after in pairwise(ends) if after - before > 1)


def covered_ids(*, first_id: int, last_id: int, open_ranges: Sequence[IdRange]) -> list[int]:
    """Return the ids of a range without those left open.

    Examples
    --------
    >>> covered_ids(first_id=3, last_id=7, open_ranges=[(4, 5), (7, 7)])
    [3, 6]
    """
    ends = [(first_id, first_id - 1), *open_ranges, (last_id + 1, last_id)]
    return [pk for (_, before), (after, _) in pairwise(ends) for pk in range(before + 1, after)]


def _canonical(facts: Mapping[str, object]) -> bytes:
    return json.dumps(facts, sort_keys=True, separators=(",", ":"), ensure_ascii=True, default=_text).encode()


def _text(value: object) -> str:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat(timespec="microseconds")
    if isinstance(value, Decimal):
        return f"{value:.3f}"
    raise TypeError(f"no form for {type(value).__name__}")
