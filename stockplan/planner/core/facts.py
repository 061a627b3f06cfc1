"""What a make list is computed from: plain frozen records, no queryset, no clock."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from enum import StrEnum

from forecasting.messages import Message
from inventory.rules.calendar import PlantCalendar
from stockplan.planner.core.changeover import ChangeoverRule, FilamentTraits, Override
from stockplan.planner.core.parameters import PlanParameters


@dataclass(frozen=True)
class SkuFacts:
    """One SKU as of now. Demand is by ship day of `PlanFacts.days`, cumulated.

    Parameters
    ----------
    target_kg
        Mass wound on a spool: net + give-away.
    spool_part
        The empty spool, which the run takes from the store.
    packed_with
        Box and desiccant, which packing takes from the store: one piece of each for a spool.
    shelf
        Spools on the shelf, allocated or not.
    order_up_to, ahead
        The level that lots fill up to, and what of it is built ahead of weeks that the lines cannot follow.
    late
        Units on open lines that were due before the first day.
    due
        Units on open lines due by each day, late ones not included.
    mean, variance
        Of the demand still to arrive by each day; 0 where the SKU is made to order or no longer sold, so that only
        its open lines are made.
    """

    code: str
    filament: str
    net_g: int
    target_kg: float
    spool_part: str
    packed_with: tuple[str, ...]
    oven_places: float
    max_temp_c: int
    shelf: int
    order_up_to: int
    late: int
    due: tuple[int, ...]
    mean: tuple[float, ...]
    variance: tuple[float, ...]
    ahead: int = 0

    @property
    def daily(self) -> float:
        """Units that an average ship day asks for, open lines and demand still to arrive together."""
        return (self.due[-1] + self.mean[-1]) / len(self.due)


@dataclass(frozen=True)
class MaterialFacts:
    code: str
    density_g_cm3: float
    resin_item: str
    resin_dry_h: float
    dried_keeps_h: float
    spool_dry_min_c: int
    spool_dry_max_c: int
    spool_dry_h: float


@dataclass(frozen=True)
class FilamentFacts:
    traits: FilamentTraits
    name: str
    let_down_share: float
    concentrate_item: str | None

    @property
    def code(self) -> str:
        return self.traits.code


@dataclass(frozen=True)
class LineFacts:
    """A line. `rates` holds strands and metres per minute of each filament that it can make."""

    code: str
    holds: str | None
    extruder_kg_h: float
    start_up_min: float
    scrap_share: float
    availability: float
    runs_unattended: bool
    rates: Mapping[str, tuple[int, float]]


@dataclass(frozen=True)
class CommittedRun:
    """A run that is released or started: it occupies its line and its spools are supply.

    `drying_from`: when its resin goes, or went, into its hopper.
    """

    code: str
    filament: str
    line: str
    is_started: bool
    planned_start: datetime
    planned_end: datetime
    hopper: str | None
    spools: Mapping[str, int]
    drying_from: datetime | None = None


@dataclass(frozen=True)
class PlacedRun:
    """A run as it stands on a list. `spools` by SKU."""

    filament: str
    line: str
    start: datetime
    spools: Mapping[str, int]

    @property
    def total(self) -> int:
        """Spools of all sizes."""
        return sum(self.spools.values())


@dataclass(frozen=True)
class ListBefore:
    """What a list of some instant has left: its runs that are neither released nor pinned."""

    as_of: datetime
    runs: tuple[PlacedRun, ...]

    def in_order(self) -> ListBefore:
        """Return the same with the runs in the order of their starts."""
        runs = sorted(self.runs, key=lambda run: (run.start, run.line, run.filament))
        return replace(self, runs=tuple(replace(run, spools=dict(sorted(run.spools.items()))) for run in runs))


@dataclass(frozen=True)
class Pipeline:
    """Spools that are wound and not yet shelved."""

    sku: str
    quantity: int
    shelf_at: datetime


@dataclass(frozen=True)
class HopperFacts:
    code: str
    capacity_kg: float
    is_continuous: bool
    clean_min: float
    holds_material: str | None
    dried_since: datetime | None


@dataclass(frozen=True)
class OvenFacts:
    code: str
    places: float
    temperature_c: int


@dataclass(frozen=True)
class StoreItem:
    """Material or part in the store; what committed runs will take of it is still in it.

    An item that is not among the facts is not kept in the books and limits nothing. No run that needs it begins before
    `usable_from`; None: it is there.
    """

    code: str
    name: str
    unit: str
    on_hand: float
    lead_time_days: int
    usable_from: datetime | None = None


@dataclass(frozen=True)
class LineStop:
    """A line cannot work from one instant to another, whatever its shifts."""

    line: str
    start: datetime
    end: datetime


class InstructionKind(StrEnum):
    PIN = "pin"
    FORBID = "forbid"
    RESIZE = "resize"


@dataclass(frozen=True)
class Instruction:
    """What the planner fixed by hand. `sku` and `spools` belong to a resize.

    Parameters
    ----------
    place
        Of a pin that says where on its line the run stands, counted behind the released runs; None: no such place.
    sizes
        SKU and spools of such a pin.
    """

    kind: InstructionKind
    filament: str
    line: str | None = None
    sku: str | None = None
    spools: int | None = None
    place: int | None = None
    sizes: tuple[tuple[str, int], ...] = ()


@dataclass(frozen=True)
class PlanFacts:
    """Everything that a make list depends on. Equal facts give equal lists, whatever the order of the rows.

    Parameters
    ----------
    days
        Ship days that demand is given for; the list itself covers those up to `last_day`.
    listed
        The list before, which small changes do not reshuffle; None: it has left nothing.
    later_weeks
        What the forecast says of the weeks after the list; None: nothing.
    """

    as_of: datetime
    first_day: date
    last_day: date
    days: tuple[date, ...]
    calendar: PlantCalendar
    skus: tuple[SkuFacts, ...]
    filaments: tuple[FilamentFacts, ...]
    materials: tuple[MaterialFacts, ...]
    lines: tuple[LineFacts, ...]
    changeover_rule: ChangeoverRule
    overrides: tuple[Override, ...] = ()
    committed: tuple[CommittedRun, ...] = ()
    pipeline: tuple[Pipeline, ...] = ()
    hoppers: tuple[HopperFacts, ...] = ()
    ovens: tuple[OvenFacts, ...] = ()
    store: tuple[StoreItem, ...] = ()
    instructions: tuple[Instruction, ...] = ()
    stops: tuple[LineStop, ...] = ()
    listed: ListBefore | None = None
    parameters: PlanParameters = field(default_factory=PlanParameters)
    later_weeks: Message | None = None

    def __post_init__(self) -> None:
        if not self.days:
            raise ValueError("a make list needs at least one ship day")
        wrong = [s.code for s in self.skus if not len(s.due) == len(s.mean) == len(s.variance) == len(self.days)]
        if wrong:
            raise ValueError(f"demand of {wrong[0]} does not cover the {len(self.days)} ship days")

    def in_order(self) -> PlanFacts:
        """Return the same facts with every row in the order of its code."""
        return replace(
            self,
            skus=tuple(sorted(self.skus, key=lambda s: s.code)),
            filaments=tuple(sorted(self.filaments, key=lambda f: f.code)),
            materials=tuple(sorted(self.materials, key=lambda m: m.code)),
            lines=tuple(sorted(self.lines, key=lambda line: line.code)),
            committed=tuple(sorted(self.committed, key=lambda r: (r.planned_start, r.code))),
            pipeline=tuple(sorted(self.pipeline, key=lambda p: (p.shelf_at, p.sku, p.quantity))),
            hoppers=tuple(sorted(self.hoppers, key=lambda h: h.code)),
            ovens=tuple(sorted(self.ovens, key=lambda o: o.code)),
            store=tuple(sorted(self.store, key=lambda i: i.code)),
            stops=tuple(sorted(self.stops, key=lambda s: (s.line, s.start, s.end))),
            listed=None if self.listed is None else self.listed.in_order(),
            instructions=tuple(
                sorted(
                    self.instructions,
                    key=lambda i: (i.filament, i.kind, i.line or "", i.place or 0, i.sku or "", i.spools or 0),
                )
            ),
        )
