"""What was sealed cannot change, vanish or be slipped in without its seal telling."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from django.db import connection, transaction

from inventory.models import Movement, MovementLine
from inventory.selectors.seals import SealFault, verify_seals
from tests.constraints import copy_of
from tests.inventory.books.seals import faults, seal

pytestmark = pytest.mark.django_db
TRIGGERS = ("inventory_movement", "inventory_movementline", "inventory_ledgerseal")


@pytest.fixture
def tampering(posted: list[int]) -> Iterator[Callable[[str], None]]:
    """Somebody with the database in hand: no trigger and no key stops them. All is undone at the end of the test."""

    def run(statement: str) -> None:
        with connection.cursor() as cursor:
            if connection.vendor == "postgresql":
                cursor.execute("SET LOCAL session_replication_role = replica")
            else:
                # Keys are checked at the end of a transaction, which this one does not reach.
                cursor.execute("PRAGMA defer_foreign_keys = ON")
                for table in TRIGGERS:
                    cursor.execute(f"DROP TRIGGER IF EXISTS {table}_never_changes")
            cursor.execute(statement)

    with transaction.atomic():
        yield run
        transaction.set_rollback(True)


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE inventory_movement SET reason = 'prettier' WHERE id = {id}",
        "UPDATE inventory_movementline SET quantity = 2 WHERE movement_id = {id}",
        "DELETE FROM inventory_movementline WHERE movement_id = {id}",
    ],
)
def test_changed_movement_is_found(posted: list[int], tampering: Callable[[str], None], statement: str) -> None:
    seal(batch_size=2)
    tampering(statement.format(id=posted[2]))
    assert faults() == [f"seal 2: a movement from {posted[2]} to {posted[3]} was changed since it was sealed"]


def test_vanished_movement_is_found(posted: list[int], tampering: Callable[[str], None]) -> None:
    seal()
    tampering(f"DELETE FROM inventory_movementline WHERE movement_id = {posted[1]}")
    tampering(f"DELETE FROM inventory_movement WHERE id = {posted[1]}")
    assert faults() == [f"seal 1: movement {posted[1]} is missing"]


def test_line_slipped_into_a_sealed_movement_is_found(posted: list[int], tampering: Callable[[str], None]) -> None:
    seal()
    copy_of(MovementLine.objects.get(movement_id=posted[1]))
    assert faults() == [f"seal 1: a movement from 1 to {posted[-1]} was changed since it was sealed"]


@pytest.mark.parametrize(
    ("statement", "wanted"),
    [
        ("UPDATE inventory_ledgerseal SET root = 'x'", ["hash is not that", "was changed since"]),
        ("UPDATE inventory_ledgerseal SET seal_hash = 'x'", ["hash is not that", "does not follow"]),
        (
            "UPDATE inventory_ledgerseal SET last_id = last_id - 1",
            ["hash is not", "was changed", "begins at"],
        ),
        (
            "DELETE FROM inventory_ledgerseal",
            ["seal 1 is missing before it", "does not follow", "begins at"],
        ),
    ],
)
def test_tampered_seal_is_found(
    posted: list[int], tampering: Callable[[str], None], statement: str, wanted: list[str]
) -> None:
    seal(batch_size=2)
    tampering(f"{statement} WHERE number = 1")
    found = faults()
    assert len(found) == len(wanted)
    assert all(part in fault for part, fault in zip(wanted, found, strict=True))


def test_rewritten_chain_is_given_away_by_a_hash_that_was_noted(
    posted: list[int], tampering: Callable[[str], None]
) -> None:
    [first] = seal()
    tampering(f"UPDATE inventory_movement SET reason = 'prettier' WHERE id = {posted[1]}")
    tampering("DELETE FROM inventory_ledgerseal")
    [forged] = seal()
    assert faults() == []
    noted = verify_seals(noted={1: first.seal_hash, 2: "0" * 64}).faults
    assert noted == (
        SealFault(1, f"its hash is {forged.seal_hash}, but {first.seal_hash} was noted"),
        SealFault(2, "it was noted, but is not there"),
    )


def test_movement_that_commits_after_its_seal_is_sealed_by_the_next(
    posted: list[int], tampering: Callable[[str], None]
) -> None:
    """As on PostgreSQL, where a transaction may take an id and commit after another one with a higher id."""
    late = Movement.objects.get(pk=posted[1])
    lines = list(late.lines.all())
    for table, column in (("movementline", "movement_id"), ("movement", "id")):
        tampering(f"DELETE FROM inventory_{table} WHERE {column} = {late.pk}")
    [first] = seal()
    assert first.body.open_ranges[-1] == (late.pk, late.pk)
    assert (verify_seals().unsealed, faults()) == (0, [])
    for row in (late, *lines):
        row.save(force_insert=True)
    assert (verify_seals().unsealed, faults()) == (1, [])
    [second] = seal()
    assert (second.late_ids, second.first_id, second.last_id) == ([late.pk], posted[-1] + 1, posted[-1])
    check = verify_seals()
    assert (check.faults, check.movements, check.unsealed) == ((), 4, 0)


def test_seal_of_a_movement_that_no_seal_left_open_is_found(
    posted: list[int], tampering: Callable[[str], None]
) -> None:
    seal(batch_size=2)
    tampering(f"UPDATE inventory_ledgerseal SET late_ids = '[{posted[0]}]' WHERE number = 2")
    assert any("which no earlier seal left open" in fault for fault in faults())


def test_seal_is_not_updated_by_raw_sql(posted: list[int]) -> None:
    seal()
    with pytest.raises(Exception, match="never_changes"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("UPDATE inventory_ledgerseal SET root = 'x'")
