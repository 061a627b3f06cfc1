"""Search by words. Expected finds and distances by hand; no source."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.rules.search import letters_wrong, search_ranks, words_of

RECORDS = {
    "stone": ("PLA-STONE-175-1000", "PLA Stone 1.75 mm 1 kg", "9520000000011"),
    "snow": ("PLA-SNOW-175-1000", "PLA Snow 1.75 mm 1 kg", "9520000000028"),
    "snow-250": ("PLA-SNOW-175-250", "PLA Snow 1.75 mm 250 g", "9520000000035"),
    "aqua": ("PETG-AQUA-285-1000", "PETG Aquamarine 2.85 mm 1 kg", "9520000000042"),
}
LETTERS = st.text(alphabet="abcé1-. ", max_size=8)


@pytest.mark.parametrize(
    ("search", "found"),
    [
        ("stone", {"stone": 0}),
        ("Stone PLA", {"stone": 0}),
        ("pla stone 1kg", {"stone": 0}),
        ("PLA-SNOW-175-250", {"snow-250": 0}),
        ("snow 250 g", {"snow-250": 0}),
        ("9520000000028", {"snow": 0}),
        ("95200000000", {"stone": 1, "snow": 1, "snow-250": 1, "aqua": 1}),
        ("2.85", {"aqua": 0}),
        ("2,85", {"aqua": 0}),  # as it is written where the decimal sign is a comma
        ("1 kg", {"stone": 0, "snow": 0, "aqua": 0}),  # 1.75 has a 1 as well
        ("1.7", {"stone": 1, "snow": 1, "snow-250": 1}),
        ("aqua", {"aqua": 0}),
        ("marine", {"aqua": 1}),
        ("sno 250", {"snow-250": 1}),
        ("stonepla", {"stone": 0}),  # two words written as one
        ("snowpetg", {}),
        ("stnoe", {"stone": 2}),  # neighbours exchanged
        ("stoone", {"stone": 2}),  # one added
        ("stne pla", {"stone": 2}),  # one missing
        ("stome", {"stone": 2}),  # one wrong
        ("aquamrinne", {"aqua": 2}),  # two wrong of ten letters
        ("stmme", {}),  # two wrong of five letters: another word
        ("stin", {}),
        ("snw", {}),  # too short to tell a mistake from another word
        ("175-251", {}),  # a number is never misspelled
        ("stone petg", {}),
        ("", {"stone": 0, "snow": 0, "snow-250": 0, "aqua": 0}),
        (" - ", {"stone": 0, "snow": 0, "snow-250": 0, "aqua": 0}),
    ],
)
def test_search_finds_every_word_and_ranks_by_the_worst(search: str, found: dict[str, int]) -> None:
    assert search_ranks(search, RECORDS) == found


def test_search_takes_no_word_for_misspelled_that_a_record_holds() -> None:
    records = {"a": ("Stone",), "b": ("Store",)}
    assert search_ranks("stone", records) == {"a": 0}


def test_search_ranks_a_word_above_its_part_above_a_misspelling() -> None:
    records = {"word": ("Sand Grey",), "part": ("Sandstone Grey",), "other": ("Slate Grey",)}
    assert search_ranks("grey sand", records) == {"word": 0, "part": 1}
    assert search_ranks("gery sand", records) == {"word": 2, "part": 2}


def test_search_does_not_care_for_accents_and_case() -> None:
    assert search_ranks("CREME", {"a": ("Crème",)}) == {"a": 0}
    assert search_ranks("crème", {"a": ("CREME",)}) == {"a": 0}


@pytest.mark.parametrize(
    ("word", "other", "wrong"),
    [("", "", 0), ("ab", "ba", 1), ("abc", "", 3), ("kitten", "sitting", 3), ("ca", "abc", 3)],
)
def test_letters_wrong_is_the_optimal_alignment(word: str, other: str, wrong: int) -> None:
    # kitten/sitting = 3 is the usual textbook example of the Levenshtein distance; ca/abc = 3 is where the optimal
    # alignment differs from the full Damerau distance (2). Both from memory.
    assert letters_wrong(word, other) == wrong


@given(LETTERS, LETTERS)
def test_letters_wrong_is_symmetric_and_zero_only_of_the_same(word: str, other: str) -> None:
    assert letters_wrong(word, other) == letters_wrong(other, word)
    assert (letters_wrong(word, other) == 0) == (word == other)


@given(LETTERS)
def test_words_do_not_change_when_they_are_joined_and_read_again(text: str) -> None:
    assert words_of(" ".join(words_of(text))) == words_of(text)
