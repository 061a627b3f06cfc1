"""The Merkle tree of RFC 6962 against published roots (fixtures/reference/merkle.json), and what a leaf covers."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.rules.seals import (
    SealBody,
    SealedLine,
    SealedMovement,
    covered_ids,
    merkle_root,
    missing_ranges,
    movement_leaf,
)

REFERENCE = Path(__file__).parents[3] / "fixtures" / "reference" / "merkle.json"
[TREE] = json.loads(REFERENCE.read_text(encoding="utf-8"))
LEAVES = [bytes.fromhex(text) for text in TREE["inputs"]["leaves_hex"]]
AT = datetime(2027, 3, 1, 12, tzinfo=UTC)
LINE = SealedLine(1, 2, 3, Decimal(5), 4, 5, None)
MOVEMENT = SealedMovement(7, "scrap", AT, AT, None, "torn", "D-1", None, None, (LINE,))
SEAL = SealBody(2, 11, 20, ((13, 14),), (9,), "ab" * 32, "cd" * 32, AT)


@pytest.mark.parametrize("count", range(1, 9))
def test_root_is_that_of_the_published_tree(count: int) -> None:
    assert merkle_root(LEAVES[:count]) == TREE["expected"]["roots"][count - 1]


def test_root_of_nothing_is_the_hash_of_nothing() -> None:
    assert merkle_root([]) == TREE["expected"]["empty_root"]


def recursive_root(leaves: list[bytes]) -> bytes:
    """RFC 6962, section 2.1, word for word."""
    if len(leaves) == 1:
        return hashlib.sha256(b"\x00" + leaves[0]).digest()
    half = 1
    while half * 2 < len(leaves):
        half *= 2
    return hashlib.sha256(b"\x01" + recursive_root(leaves[:half]) + recursive_root(leaves[half:])).digest()


@given(st.lists(st.binary(max_size=3), min_size=1, max_size=70))
def test_root_is_that_of_the_recursive_definition(leaves: list[bytes]) -> None:
    assert merkle_root(leaves) == recursive_root(leaves).hex()


@pytest.mark.parametrize(
    "change",
    [
        {"id": 8},
        {"kind": "sample"},
        {"occurred_at": AT + timedelta(microseconds=1)},
        {"known_at": AT + timedelta(microseconds=1)},
        {"posted_by_id": 1},
        {"reason": "worn"},
        {"document": "D-2"},
        {"run_id": 1},
        {"reverses_id": 1},
        {"lines": ()},
        {"lines": (LINE, LINE)},
        *(
            {"lines": (replace(LINE, **line),)}
            for line in (
                {"id": 9},
                {"item_id": 9},
                {"lot_id": 9},
                {"quantity": Decimal("5.001")},
                {"from_place_id": 9},
                {"to_place_id": 9},
                {"shipment_line_id": 9},
            )
        ),
    ],
)
def test_leaf_covers_every_fact_of_a_movement(change: dict[str, object]) -> None:
    assert movement_leaf(replace(MOVEMENT, **change)) != movement_leaf(MOVEMENT)


def test_leaf_does_not_depend_on_how_the_database_writes_a_value() -> None:
    local = AT.astimezone(ZoneInfo("Europe/Berlin"))
    other = replace(MOVEMENT, occurred_at=local, lines=(replace(LINE, quantity=Decimal("5.000")),))
    assert movement_leaf(other) == movement_leaf(MOVEMENT)


@pytest.mark.parametrize(
    "change",
    [
        {"number": 3},
        {"first_id": 12},
        {"last_id": 21},
        {"open_ranges": ()},
        {"late_ids": ()},
        {"root": "ac" * 32},
        {"previous_hash": "ce" * 32},
        {"sealed_at": AT + timedelta(microseconds=1)},
    ],
)
def test_hash_of_a_seal_covers_every_part(change: dict[str, object]) -> None:
    assert replace(SEAL, **change).hash != SEAL.hash


@given(st.sets(st.integers(5, 30)))
def test_covered_and_missing_ids_make_up_the_range(ids: set[int]) -> None:
    present = sorted(ids)
    missing = missing_ranges(present, first_id=5, last_id=30)
    assert covered_ids(first_id=5, last_id=30, open_ranges=missing) == present
    assert sorted([*present, *(pk for a, b in missing for pk in range(a, b + 1))]) == list(range(5, 31))
