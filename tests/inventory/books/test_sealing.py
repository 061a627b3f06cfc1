"""Sealing the ledger: what was sealed cannot change, vanish or be slipped in without its seal telling."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from functools import partial
from threading import Event, Thread

import pytest
import time_machine
from django.core.management import CommandError, call_command
from django.db import connection, transaction

from inventory.models import LedgerSeal, Movement, MovementLine
from inventory.selectors.seals import SealFault, verify_seals
from inventory.services.scrap import scrap_spools
from inventory.services.sealing import SealedMeanwhileError, seal_ledger
from tests.constraints import copy_of, refused
from tests.inventory.at_once import at_once
from tests.inventory.books.floor import KG
from tests.inventory.builders import TinyPlant, clock, local, put_on_shelf

pytestmark = [pytest.mark.django_db, pytest.mark.database]
NOON, AT = clock("2027-03-01 12:00"), local("2027-03-01 23:00")
TRIGGERS = ("inventory_movement", "inventory_movementline", "inventory_ledgerseal")
seal = partial(seal_ledger, sealed_at=AT)


@pytest.fixture
def posted(plant: TinyPlant) -> list[int]:
    """Four movements: the opening of ten spools and three of them scrapped one by one."""
    put_on_shelf(plant.black_1kg, 10)
    for _ in range(3):
        scrap_spools(sku_code=KG, quantity=1, clock=NOON, reason="torn")
    return list(Movement.objects.order_by("pk").values_list("pk", flat=True))


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


def faults() -> list[str]:
    return [str(fault) for fault in verify_seals().faults]


def test_first_seal_covers_everything_and_follows_none(posted: list[int]) -> None:
    [first] = seal()
    # Ids below the first movement were given up by other tests.
    assert (first.number, first.first_id, first.last_id, first.previous_hash) == (1, 1, posted[-1], "0" * 64)
    assert first.open_ranges == ([[1, posted[0] - 1]] if posted[0] > 1 else [])
    check = verify_seals()
    assert (check.seals, check.movements, check.unsealed, check.faults) == (1, 4, 0, ())
    assert check.last_hash == first.seal_hash


def test_next_seal_takes_what_is_new_and_is_chained_to_the_last(plant: TinyPlant, posted: list[int]) -> None:
    [first] = seal()
    scrap_spools(sku_code=KG, quantity=1, clock=NOON, reason="torn")
    assert verify_seals().unsealed == 1
    [second] = seal()
    assert (second.first_id, second.previous_hash) == (first.last_id + 1, first.seal_hash)
    assert verify_seals().movements == 5


def test_nothing_new_gives_no_seal(posted: list[int]) -> None:
    seal()
    assert seal() == []


def test_large_ledger_is_sealed_in_batches(posted: list[int]) -> None:
    assert [row.last_id for row in seal(batch_size=3)] == [posted[2], posted[3]]
    assert (verify_seals().movements, faults()) == (4, [])


def test_empty_ledger_has_nothing_to_seal(plant: TinyPlant) -> None:
    assert seal() == []
    assert verify_seals().seals == 0


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


@pytest.mark.django_db(transaction=True)
def test_sealing_does_not_wait_for_a_posting_under_way(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 10)
    posted_one, go_on = Event(), Event()

    def post_slowly() -> None:
        try:
            with transaction.atomic():
                scrap_spools(sku_code=KG, quantity=1, clock=NOON, reason="torn")
                posted_one.set()
                go_on.wait(10)
        finally:
            connection.close()

    thread = Thread(target=post_slowly)
    thread.start()
    assert posted_one.wait(10)
    try:
        if connection.vendor == "postgresql":
            assert len(seal()) == 1
        assert verify_seals().faults == ()
    finally:
        go_on.set()
        thread.join()
    seal()
    check = verify_seals()
    assert (check.faults, check.movements, check.unsealed) == ((), 2, 0)


@pytest.mark.django_db(transaction=True)
def test_two_sealings_at_once_never_fork_the_chain(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 10)
    answers = at_once(seal, seal)
    assert {type(answer).__name__ for answer in answers} <= {"list", "SealedMeanwhileError"}
    assert LedgerSeal.objects.count() == 1
    assert faults() == []


def test_seal_costs_the_same_queries_for_one_movement_and_four(
    plant: TinyPlant, posted: list[int], queries_of: Callable[..., int]
) -> None:
    seal(batch_size=1)
    for _ in range(4):
        scrap_spools(sku_code=KG, quantity=1, clock=NOON, reason="torn")
    many = queries_of(seal)
    scrap_spools(sku_code=KG, quantity=1, clock=NOON, reason="torn")
    assert queries_of(seal) == many


@time_machine.travel(AT, tick=False)
def test_commands_seal_and_verify(posted: list[int], capsys: pytest.CaptureFixture[str]) -> None:
    call_command("seal_ledger")
    printed = capsys.readouterr().out
    found = re.match(r"(1:[0-9a-f]{64}) movements 1 to (\d+)\n$", printed)
    assert found is not None
    assert int(found[2]) == posted[-1]
    call_command("verify_seals", found[1])
    assert "1 seals over 4 movements hold; 0 movements are not sealed yet." in capsys.readouterr().out
    call_command("seal_ledger")
    assert capsys.readouterr().out == "Nothing new to seal.\n"


def test_command_fails_on_a_seal_that_does_not_hold(posted: list[int]) -> None:
    seal()
    with pytest.raises(CommandError, match="1 faults: the ledger is not as it was sealed"):
        call_command("verify_seals", "1:" + "0" * 64)


@pytest.mark.parametrize("noted", ["1", "x:" + "0" * 64, "1:" + "0" * 63])
def test_command_refuses_what_is_no_seal(db: None, noted: str) -> None:
    with pytest.raises(CommandError, match="is no seal"):
        call_command("verify_seals", noted)


def test_seal_is_not_updated_by_raw_sql(posted: list[int]) -> None:
    seal()
    with pytest.raises(Exception, match="never_changes"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("UPDATE inventory_ledgerseal SET root = 'x'")


@pytest.mark.clean_error_of("ledgerseal_one_per_number")
def test_seal_that_another_process_wrote_first_is_refused_by_the_service(
    posted: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    def write_first(leaves: list[bytes]) -> str:
        monkeypatch.undo()
        seal()
        return "0" * 64

    monkeypatch.setattr("inventory.services.sealing.merkle_root", write_first)
    with pytest.raises(SealedMeanwhileError, match="Seal 1 was written by another process"), transaction.atomic():
        seal()


@pytest.mark.refused_by_database("ledgerseal_one_per_number")
def test_second_seal_of_a_number_is_refused_by_the_database(posted: list[int]) -> None:
    [first] = seal()
    with refused("ledgerseal_one_per_number"):
        copy_of(first)


@pytest.mark.clean_error_of("ledgerseal_number_from_one")
@pytest.mark.clean_error_of("ledgerseal_ids_ordered")
def test_seals_are_numbered_from_one_over_rising_ids(posted: list[int]) -> None:
    seals = seal(batch_size=2)
    assert [row.number for row in seals] == [1, 2]
    assert all(row.first_id <= row.last_id for row in seals)


@pytest.mark.refused_by_database("ledgerseal_number_from_one")
def test_seal_of_number_nought_is_refused_by_the_database(posted: list[int]) -> None:
    [first] = seal()
    with refused("ledgerseal_number_from_one"):
        copy_of(first, number=0)


@pytest.mark.refused_by_database("ledgerseal_ids_ordered")
def test_seal_with_its_ids_the_wrong_way_round_is_refused_by_the_database(posted: list[int]) -> None:
    [first] = seal()
    with refused("ledgerseal_ids_ordered"):
        copy_of(first, number=2, first_id=9, last_id=7)
