"""Finding records by words: in any order, in part, and slightly misspelled. Pure.

References
----------
F. J. Damerau, "A technique for computer detection and correction of spelling errors", Communications of the ACM 7(3),
1964: four of five misspelled words differ by one wrong, missing, added or exchanged letter.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Hashable, Mapping, Sequence
from functools import lru_cache
from typing import TypeVar

Key = TypeVar("Key", bound=Hashable)

EXACT, PART, MISSPELLED = 0, 1, 2
# A shorter word with a letter wrong is another word; a longer one may have two.
SHORTEST_MISSPELLED, SHORTEST_TWICE_MISSPELLED = 4, 8
# Letters and numbers apart, so that "1kg" finds "1 kg"; a decimal point or comma belongs to its number.
_WORD = re.compile(r"[0-9]+(?:[.,][0-9]+)?|[^\W\d_]+")


def words_of(text: str) -> list[str]:
    """Return the words of a text: small letters without accents, and numbers.

    Examples
    --------
    >>> words_of("PLA-SNOW-175 Crème 1kg")
    ['pla', 'snow', '175', 'creme', '1', 'kg']
    """
    plain = "".join(letter for letter in unicodedata.normalize("NFKD", text) if not unicodedata.combining(letter))
    return [word.replace(",", ".") for word in _WORD.findall(plain.casefold())]


def search_ranks(search: str, records: Mapping[Key, Sequence[str]]) -> dict[Key, int]:
    """Return the records whose texts hold every word of a search, with the rank of the worst fitting word.

    Parameters
    ----------
    search : str
        Words in any order. A search without a word finds every record.
    records : mapping of key to texts
        What is searched: codes, names, GTINs.

    Returns
    -------
    dict of key to int
        0: every word is a word of the record; 1: some are parts of one; 2: some are misspelled.

    Notes
    -----
    A word counts as misspelled only where no record holds it, as a word or in part: who spells "stone" right does not
    ask for "store". Numbers are never misspelled: another number is another size; and where a record holds a number, no
    other is taken for it that has it as a part, as 1.75 has 1. Two words of the records written as one count as the
    two.
    """
    by_key = {key: {word for text in texts for word in _known_words(text)} for key, texts in records.items()}
    vocabulary = set().union(*by_key.values()) if by_key else set()
    words_asked = [part for word in words_of(search) for part in _written_apart(word, vocabulary)]
    asked = [_ranks_of_words(word, vocabulary) for word in words_asked]
    found = {key: _rank(words, asked) for key, words in by_key.items()}
    return {key: rank for key, rank in found.items() if rank is not None}


def letters_wrong(word: str, other: str) -> int:
    """Return how many letters were wrong, missing, added or exchanged with their neighbour (optimal alignment).

    Examples
    --------
    >>> letters_wrong("stnoe", "stone"), letters_wrong("gray", "grey"), letters_wrong("coppr", "copper")
    (1, 1, 1)
    """
    before: list[int] = []
    row = list(range(len(other) + 1))
    for i, letter in enumerate(word, start=1):
        last, before, row = before, row, [i]
        for j, wanted in enumerate(other, start=1):
            cost = min(before[j] + 1, row[j - 1] + 1, before[j - 1] + (letter != wanted))
            if i > 1 and j > 1 and letter == other[j - 2] and word[i - 2] == wanted:
                cost = min(cost, last[j - 2] + 1)
            row.append(cost)
    return row[-1]


# A catalogue is searched again at every key that somebody presses: its texts are the same.
@lru_cache(maxsize=50_000)
def _known_words(text: str) -> tuple[str, ...]:
    return tuple(words_of(text))


def _rank(words: set[str], asked: Sequence[Mapping[str, int]]) -> int | None:
    """Worst of the best ranks of each word that is asked for; None where one is not there."""
    worst = EXACT
    for ranks in asked:
        best = min((ranks[word] for word in words & ranks.keys()), default=None)
        if best is None:
            return None
        worst = max(worst, best)
    return worst


def _written_apart(word: str, vocabulary: set[str]) -> tuple[str, ...]:
    """The two words that somebody wrote as one, or the word as it is."""
    if any(word in known for known in vocabulary):
        return (word,)
    cuts = ((word[:cut], word[cut:]) for cut in range(len(word) - 1, 0, -1))
    return next(((head, tail) for head, tail in cuts if head in vocabulary and tail in vocabulary), (word,))


def _ranks_of_words(asked: str, vocabulary: set[str]) -> dict[str, int]:
    if asked in vocabulary and not asked.isalpha():
        return {asked: EXACT}
    held = {word: EXACT if word == asked else PART for word in vocabulary if asked in word}
    if held or not asked.isalpha() or len(asked) < SHORTEST_MISSPELLED:
        return held
    most = 1 if len(asked) < SHORTEST_TWICE_MISSPELLED else 2
    near = (word for word in vocabulary if word.isalpha() and abs(len(word) - len(asked)) <= most)
    return {word: MISSPELLED for word in near if letters_wrong(asked, word) <= most}
