"""What if: the facts of a list with one thing or another changed. Nothing here touches what is stored."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import MISSING, dataclass, fields, replace
from datetime import date, timedelta
from datetime import time as wall_time
from functools import reduce
from typing import Any, Protocol

from inventory.rules.texts import gettext_noop, listed, text
from stockplan.planner.core.facts import Instruction, InstructionKind, LineStop, PlanFacts, SkuFacts
from stockplan.planner.errors import PlanningError

_MIDNIGHT = wall_time(0)
MOST_SPOOLS = 100_000
MOST_DAYS = 60


class WhatIfError(PlanningError):
    """The change names what is not there, or lacks what it needs."""

    code = "what_if"


class Change(Protocol):
    """One change of facts."""

    def made_in(self, facts: PlanFacts) -> PlanFacts:
        """Return the facts with the change.

        Raises
        ------
        WhatIfError
            If it names what the facts do not hold, or a number is out of range.
        """
        ...


@dataclass(frozen=True)
class Pin:
    """Make a filament, on a line if one is named, whatever it is worth."""

    filament: str
    line: str | None = None

    def made_in(self, facts: PlanFacts) -> PlanFacts:
        _known("filament", self.filament, [f.code for f in facts.filaments])
        lines = [line.code for line in facts.lines if self.filament in line.rates]
        if not lines or (self.line is not None and self.line not in lines):
            if self.line is None:
                raise WhatIfError("No line can make {filament}.", filament=self.filament, pointer="/filament")
            raise WhatIfError(
                "Line {line} is not one that can make {filament}.",
                line=self.line,
                filament=self.filament,
                pointer="/line",
            )
        return _instructed(facts, Instruction(InstructionKind.PIN, self.filament, self.line))


@dataclass(frozen=True)
class Forbid:
    """Do not make a filament."""

    filament: str

    def made_in(self, facts: PlanFacts) -> PlanFacts:
        _known("filament", self.filament, [f.code for f in facts.filaments])
        return _instructed(facts, Instruction(InstructionKind.FORBID, self.filament))


@dataclass(frozen=True)
class Resize:
    """Make exactly so many spools of a SKU; 0: none."""

    sku: str
    spools: int

    def made_in(self, facts: PlanFacts) -> PlanFacts:
        _within("spools", self.spools, 0, MOST_SPOOLS)
        filament = _sku(facts, self.sku).filament
        return _instructed(facts, Instruction(InstructionKind.RESIZE, filament, sku=self.sku, spools=self.spools))


@dataclass(frozen=True)
class LineDown:
    """A line stands still on a local day."""

    line: str
    day: date

    def made_in(self, facts: PlanFacts) -> PlanFacts:
        _known("line", self.line, [line.code for line in facts.lines])
        _listed_day(facts, self.day)
        start, end = (facts.calendar.at(day, _MIDNIGHT) for day in (self.day, self.day + timedelta(days=1)))
        return replace(facts, stops=(*facts.stops, LineStop(self.line, start, end)))


@dataclass(frozen=True)
class RushOrder:
    """An order of a SKU comes in, due on the first ship day at or after a day."""

    sku: str
    spools: int
    day: date

    def made_in(self, facts: PlanFacts) -> PlanFacts:
        _within("spools", self.spools, 1, MOST_SPOOLS)
        _listed_day(facts, self.day)
        sku = _sku(facts, self.sku)
        due = tuple(n + self.spools * (day >= self.day) for n, day in zip(sku.due, facts.days, strict=True))
        return replace(facts, skus=tuple(replace(s, due=due) if s is sku else s for s in facts.skus))


@dataclass(frozen=True)
class ItemLate:
    """No run may begin to use a material for so many calendar days, today included."""

    item: str
    days: int

    def made_in(self, facts: PlanFacts) -> PlanFacts:
        _within("days", self.days, 1, MOST_DAYS)
        used = {m.resin_item for m in facts.materials} | {f.concentrate_item for f in facts.filaments}
        _known("item", self.item, [item.code for item in facts.store if item.code in used])
        today = facts.calendar.local_day(facts.as_of)
        there = facts.calendar.at(today + timedelta(days=self.days), _MIDNIGHT)
        store = tuple(replace(i, usable_from=there) if i.code == self.item else i for i in facts.store)
        return replace(facts, store=store)


@dataclass(frozen=True)
class ReplanReleased:
    """Runs that are released and not started are planned anew."""

    def made_in(self, facts: PlanFacts) -> PlanFacts:
        return replace(facts, committed=tuple(run for run in facts.committed if run.is_started))


CHANGES: Mapping[str, type[Any]] = {
    "pin": Pin,
    "forbid": Forbid,
    "resize": Resize,
    "line_down": LineDown,
    "rush_order": RushOrder,
    "item_late": ItemLate,
    "replan_released": ReplanReleased,
}


def change_of(kind: str, given: Mapping[str, Any]) -> Change:
    """Return the change of a kind from its fields by name.

    Raises
    ------
    WhatIfError
        If a field is missing, or one is given that the kind does not take.
    """
    takes = fields(CHANGES[kind])
    lacking = [f.name for f in takes if f.default is MISSING and f.name not in given]
    if lacking:
        raise WhatIfError("The change {kind} needs {lacking}.", kind=kind, lacking=listed(lacking), pointer="/change")
    extra = sorted(given.keys() - {f.name for f in takes})
    if extra:
        all_extra = reduce(lambda one, other: text("{one} and no {other}", one=one, other=other), extra)
        raise WhatIfError("The change {kind} takes no {extra}.", kind=kind, extra=all_extra, pointer=f"/{extra[0]}")
    made: Change = CHANGES[kind](**given)
    return made


def changes_of(rows: Iterable[Mapping[str, Any]]) -> tuple[Change, ...]:
    """Return changes from rows of their kind, `change`, and its fields."""
    found = []
    for at, row in enumerate(rows):
        with _named(at):
            found.append(change_of(row["change"], {name: value for name, value in row.items() if name != "change"}))
    return tuple(found)


def with_changes(facts: PlanFacts, changes: Iterable[Change]) -> PlanFacts:
    """Return the facts with changes made one after the other.

    Raises
    ------
    WhatIfError
        If a change names what the facts do not hold; its pointer says which change.
    """
    for at, change in enumerate(changes):
        with _named(at):
            facts = change.made_in(facts)
    return facts


@contextmanager
def _named(at: int) -> Iterator[None]:
    """Let an error point to the change that it is about."""
    try:
        yield
    except WhatIfError as error:
        raise WhatIfError("{error}", error=error, pointer=f"/changes/{at}{error.pointer}") from error


def _instructed(facts: PlanFacts, new: Instruction) -> PlanFacts:
    """A pin or ban takes the place of the one in force for the filament, a size that of the SKU's."""
    kept = [row for row in facts.instructions if row.filament != new.filament or row.sku != new.sku]
    return replace(facts, instructions=(*kept, new))


def _sku(facts: PlanFacts, code: str) -> SkuFacts:
    _known("sku", code, [sku.code for sku in facts.skus])
    return next(sku for sku in facts.skus if sku.code == code)


_NOT_THERE: Mapping[str, str] = {
    "filament": gettext_noop("There is no filament {code} in the plant."),
    "item": gettext_noop("There is no item {code} among the resins and concentrates in the books."),
    "line": gettext_noop("There is no line {code} in the plant."),
    "sku": gettext_noop("There is no sku {code} in the plant."),
}


def _known(name: str, code: str, codes: Iterable[str]) -> None:
    if code not in set(codes):
        raise WhatIfError(_NOT_THERE[name], code=code, pointer=f"/{name}")


def _within(name: str, number: int, least: int, most: int) -> None:
    if not least <= number <= most:
        raise WhatIfError(
            "{name} must be {least} to {most}, got {number}.",
            name=name,
            least=least,
            most=most,
            number=number,
            pointer=f"/{name}",
        )


def _listed_day(facts: PlanFacts, day: date) -> None:
    if not facts.first_day <= day <= facts.last_day:
        raise WhatIfError(
            "The list covers {first_day} to {last_day}, got the day {day}.",
            first_day=facts.first_day,
            last_day=facts.last_day,
            day=day,
            pointer="/day",
        )
