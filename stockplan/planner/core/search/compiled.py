"""The one place that imports numba. Imported late, by `search`, so that nothing waits for it at start-up.

Reference counts are switched off (`_nrt`): the parts pass tuples of some twenty arrays to each other, and counting
each of them at each call took fifty times as long as the work. So no compiled part may make an array.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import numba

# Unknown to numba's own types.
OPTIONS: dict[str, Any] = {"_nrt": False, "error_model": "numpy"}
# Python never calls the parts, and what it would need for that takes as long to compile as they do.
PART: dict[str, Any] = OPTIONS | {"no_cpython_wrapper": True, "no_cfunc_wrapper": True}
Function = TypeVar("Function", bound=Callable[..., Any])


def compiled(function: Function) -> Function:
    """Compile a part of the search; kept on disk within the entry that calls it."""
    return numba.njit(**PART)(function)  # type: ignore[no-any-return]


def compiled_inline(function: Function) -> Function:
    """Compile a part into what calls it: handing it the plan's arrays takes longer than what it does."""
    return numba.njit(forceinline=True, **PART)(function)  # type: ignore[no-any-return]


def compiled_entry(function: Function) -> Function:
    """Compile what Python calls, with all its parts, and keep the machine code on disk.

    Numba looks at the entry's own file alone when it decides whether kept code is still good. So the entry closes
    over `sources_digest`, which thereby belongs to the key.
    """
    return numba.njit(cache=True, nogil=True, **OPTIONS)(function)  # type: ignore[no-any-return]


def sources_digest() -> str:
    """Return a digest of the sources of this package."""
    sources = sorted(Path(__file__).parent.glob("*.py"))
    return hashlib.sha256(b"".join(path.read_bytes() for path in sources)).hexdigest()
