"""Sealing the ledger: what a seal covers, what it is chained to, and that nobody has to wait for it."""

from __future__ import annotations

import re
from collections.abc import Callable
from threading import Event, Thread

import pytest
import time_machine
from django.core.management import CommandError, call_command
from django.db import connection, transaction

from inventory.models import LedgerSeal
from inventory.selectors.seals import verify_seals
from inventory.services.scrap import scrap
from tests.inventory.at_once import at_once
from tests.inventory.books.floor import KG
from tests.inventory.books.seals import AT, NOON, faults, seal
from tests.inventory.builders import TinyPlant, put_on_shelf

pytestmark = pytest.mark.django_db


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
    scrap(item_code=KG, quantity=1, clock=NOON, reason="torn")
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


@pytest.mark.django_db(transaction=True)
def test_sealing_does_not_wait_for_a_posting_under_way(plant: TinyPlant) -> None:
    put_on_shelf(plant.black_1kg, 10)
    posted_one, go_on = Event(), Event()

    def post_slowly() -> None:
        try:
            with transaction.atomic():
                scrap(item_code=KG, quantity=1, clock=NOON, reason="torn")
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
        scrap(item_code=KG, quantity=1, clock=NOON, reason="torn")
    many = queries_of(seal)
    scrap(item_code=KG, quantity=1, clock=NOON, reason="torn")
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
