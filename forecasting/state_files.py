"""Levels kept in a file: each night takes in its new periods, and the bits are those of a fit to the whole record."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any
from zipfile import BadZipFile

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from forecasting.demand import demand_of
from forecasting.errors import DemandTableError
from forecasting.methods.croston import SbaLevels
from forecasting.methods.smoothing import SesLevels
from forecasting.methods.tsb import TsbLevels
from forecasting.periods import first_gap
from forecasting.states import DemandStates, Levels, fit_states
from forecasting.table_files import written_whole

# Labels kept to see whether a period is missing: of days, more than a year shows every weekday that occurs.
KEPT_PERIODS = 400
METHODS = {"ses": SesLevels, "sba": SbaLevels, "tsb": TsbLevels}
# What decides on the bits of a level.
SOURCES = (
    "levels.py",
    "compiled/lanes.py",
    "compiled/levels.py",
    "methods/croston.py",
    "methods/smoothing.py",
    "methods/tsb.py",
    "states.py",
)


@dataclass(frozen=True)
class KeptStates:
    """States, and the labels of the last periods that they took in."""

    states: DemandStates
    recent: pd.Index

    def after(self, history: pd.DataFrame) -> KeptStates:
        """Return the states after further periods, and leave these as they are.

        Raises
        ------
        DemandTableError
            If the SKUs are others, or a period is missing or was taken in before.
        """
        later = history[_in_order(self.states.skus, history.columns)]
        first = later.index[0]
        if isinstance(first, pd.Timestamp) is not isinstance(self.recent[-1], pd.Timestamp) or first <= self.recent[-1]:
            raise DemandTableError(
                "the first period must come after {last!s}, the last one taken in; got {row!s}",
                last=self.recent[-1],
                row=first,
            )
        periods = self.recent.append(later.index)
        gap = first_gap(periods)
        if gap is not None:
            raise DemandTableError("period {missing!s} is missing before {row!s}", missing=gap[1], row=periods[gap[0]])
        levels = self.states.levels.after(demand_of(later).units)
        return KeptStates(DemandStates(self.states.skus, periods[-1], levels), periods[-KEPT_PERIODS:])

    def chosen(self) -> pd.DataFrame:
        """Return the demand expected in the next period: a row per SKU, a column per method."""
        by_method = {name: getattr(self.states.levels, name).chosen() for name in METHODS}
        return pd.DataFrame({"sku": self.states.skus, **by_method})


def kept_states(history: pd.DataFrame) -> KeptStates:
    """Return the states after a history, as for ``forecast``."""
    return KeptStates(fit_states(history), history.index[-KEPT_PERIODS:])


def write_states(kept: KeptStates, path: Path) -> None:
    """Write states, whole or not at all."""
    arrays = {"code": np.array(_code()), "skus": kept.states.skus.to_numpy(str), "recent": kept.recent.to_numpy()}
    for method in METHODS:
        levels = getattr(kept.states.levels, method)
        arrays |= {f"{method}.{part.name}": np.asarray(getattr(levels, part.name)) for part in fields(levels)}
    with written_whole(path) as beside, beside.open("wb") as file:
        np.savez(file, allow_pickle=False, **arrays)


def read_states(path: Path) -> KeptStates:
    """Read states.

    Raises
    ------
    DemandTableError
        If the file holds no states, or those of other code: their bits would not be those of a fit.
    OSError
        If the file cannot be opened.
    """
    try:
        with np.load(path, allow_pickle=False) as file:
            arrays = {name: file[name] for name in file.files}
    except (BadZipFile, ValueError, EOFError) as error:
        raise DemandTableError("{file} holds no kept states: {error!s}", file=path.name, error=error) from error
    if "code" not in arrays or str(arrays["code"]) != _code():
        raise DemandTableError(
            "{file} was written by other code; delete it and begin with the whole history", file=path.name
        )
    levels = Levels(**{name: _levels(method, name, arrays) for name, method in METHODS.items()})
    recent = pd.Index(arrays["recent"])
    return KeptStates(DemandStates(pd.Index(arrays["skus"]), recent[-1], levels), recent)


def _levels(method: Any, name: str, arrays: dict[str, NDArray[Any]]) -> Any:
    parts = {part.name: arrays[f"{name}.{part.name}"] for part in fields(method)}
    return method(**{part: tuple(a.tolist()) if part.endswith("constants") else a for part, a in parts.items()})


def _in_order(skus: pd.Index, given: pd.Index) -> list[str]:
    """Return the columns in the order of the states."""
    lacks, is_new = skus.difference(given), given.difference(skus)
    if len(lacks):
        raise DemandTableError("the table lacks SKU {column!r} ({n} in all)", column=lacks[0], n=len(lacks))
    if len(is_new):
        raise DemandTableError("the file has no states of SKU {column!r} ({n} in all)", column=is_new[0], n=len(is_new))
    return list(skus)


def _code() -> str:
    digest = hashlib.sha256()
    for source in SOURCES:
        digest.update((Path(__file__).parent / source).read_bytes())
    return digest.hexdigest()
