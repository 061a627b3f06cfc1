"""What is wrong in a file, said so that the person who wrote the file can mend it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from inventory.errors import BooksError
from inventory.rules.texts import Text, joined, text

MOST_FAULTS = 50


@dataclass(frozen=True)
class Fault:
    """One fault: the file, the line (1 is the header, 0 the file as a whole), the column and the reason."""

    file: str
    line: int
    column: str
    reason: str

    @property
    def text(self) -> Text:
        """Where it is and what is wrong."""
        at = {"file": self.file, "line": self.line, "column": self.column, "reason": self.reason}
        if self.line and self.column:
            return text("{file}, line {line}, column {column}: {reason}", **at)
        if self.line:
            return text("{file}, line {line}: {reason}", **at)
        if self.column:
            return text("{file}, column {column}: {reason}", **at)
        return text("{file}: {reason}", **at)

    def __str__(self) -> str:
        return str(self.text)


class PlantFileError(BooksError):
    """A file cannot be taken as it is; nothing was loaded.

    Attributes
    ----------
    faults : tuple of Fault
        The first 50 faults of one file.
    """

    code = "plant_file"

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("Nothing was loaded.\n{faults}", faults=joined((fault.text for fault in faults), by="\n"))


class FaultList:
    """Collects the faults of one file; stops at the fiftieth."""

    def __init__(self, file: str) -> None:
        self.file = file
        self._faults: list[Fault] = []

    def add(self, line: int, column: str, reason: str) -> None:
        """Note one fault.

        Raises
        ------
        PlantFileError
            When it is the fiftieth: more of them would not help.
        """
        self._faults.append(Fault(self.file, line, column, reason))
        if len(self._faults) >= MOST_FAULTS:
            self.refuse()

    def refuse(self) -> None:
        """Raise if there is any fault.

        Raises
        ------
        PlantFileError
            With the faults in the order of the lines.
        """
        if self._faults:
            raise PlantFileError(sorted(self._faults, key=lambda fault: fault.line))
