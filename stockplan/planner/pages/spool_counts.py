"""Numbers of spools that a person typed or scanned into the fields of a form."""

from __future__ import annotations

from collections.abc import Mapping


class CountError(ValueError):
    """A field does not hold a number of spools that is possible there."""


def spools_given(posted: Mapping[str, str], *, prefix: str, most: Mapping[str, int]) -> dict[str, int]:
    """Return the spools by name of the field that were given; an empty field and 0 give none.

    Parameters
    ----------
    posted
        The form as it came; a field is called `prefix` and its name.
    most
        The most spools that each name may have.

    Raises
    ------
    CountError
        If a field holds no whole number, or more than it may. The message names it.
    """
    given = {name: _spools(prefix + name, posted.get(prefix + name, "").strip(), most[name]) for name in most}
    return {name: spools for name, spools in given.items() if spools}


def _spools(name: str, text: str, most: int) -> int:
    if not text:
        return 0
    if not (text.isascii() and text.isdecimal()):
        raise CountError(f"{name}: a whole number of spools, got {text!r}.")
    if int(text) > most:
        raise CountError(f"{name}: at most {most} spools, got {text}.")
    return int(text)
