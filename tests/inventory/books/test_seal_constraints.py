"""Each constraint of the seals twice: kept by the service, refused by the database past it."""

from __future__ import annotations

import pytest
from django.db import transaction

from inventory.services.sealing import SealedMeanwhileError
from tests.constraints import copy_of, refused
from tests.inventory.books.seals import seal

pytestmark = pytest.mark.django_db


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
