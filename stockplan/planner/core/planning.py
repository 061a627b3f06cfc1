"""From facts to a make list: the one entry point of the planner's core.

facts -> floor and supply as they stand -> pinned runs -> the index, with exchanges or searched -> ranks -> sentences
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from forecasting.messages import Message
from stockplan.planner.core.assumptions import (
    assumptions,
    gap_sentence,
    limit_words,
    limits_sentence,
    misses_sentence,
)
from stockplan.planner.core.explanation import run_reason
from stockplan.planner.core.facts import InstructionKind, PlanFacts
from stockplan.planner.core.floor import TimedRun
from stockplan.planner.core.improvement import filled_up, first_days, improved, least_misses
from stockplan.planner.core.left_out import BlockedRun, Cause, LeftOut, left_out, with_exchanges
from stockplan.planner.core.limits import Limits, limits_of
from stockplan.planner.core.made import Made
from stockplan.planner.core.materials import StoreBoard, needs_of
from stockplan.planner.core.opening import Opening, opening_of
from stockplan.planner.core.outlook import Outlook, need_of, outlook_of, winding_min_per_day
from stockplan.planner.core.pinned import place_late, place_pinned
from stockplan.planner.core.plant import Plant, plant_of
from stockplan.planner.core.ranking import RankedRun, with_arrivals
from stockplan.planner.core.selection import Rules, fill_lines
from stockplan.planner.core.supply import SupplyState, supply_state


@dataclass(frozen=True)
class ListedRun:
    """A ranked run with its sentence.

    `out_on` is the first ship day that would be short without it and the runs ranked after it; `after_rank` the rank
    of the run of the same filament before it.
    """

    ranked: RankedRun
    out_on: int | None
    after_rank: int | None
    reason: Message


@dataclass(frozen=True)
class Plan:
    """A make list as computed.

    Parameters
    ----------
    misses_without, misses_with
        Expected misses if nothing is made, and with the list: the further days that late spools wait and, discounted,
        the days after the list's last one included.
    least_misses
        No list with the same pinned runs misses fewer.
    limits
        Spools due on the list's days that will not ship on their due day, by what keeps them.
    limit
        What limits most, in a few words.
    """

    made: Made
    runs: tuple[ListedRun, ...]
    blocked: tuple[BlockedRun, ...]
    left_out: tuple[LeftOut, ...]
    assumptions: tuple[Message, ...]
    outlook: Outlook
    misses_without: float
    misses_with: float
    least_misses: float
    limits: Limits
    limit: Message

    @property
    def plant(self) -> Plant:
        """The plant that the list is for."""
        return self.made.floor.plant

    @property
    def opening(self) -> Opening:
        """What stood before the list."""
        return self.made.opening

    @property
    def state(self) -> SupplyState:
        """Supply with the list."""
        return self.made.state


def make_plan(facts: PlanFacts, *, tick: Callable[[int], None] | None = None) -> Plan:
    """Compute a make list and put it into words.

    Equal facts give an equal list, whatever the order of their rows. See `choose_runs`.
    """
    return _with_words(choose_runs(facts, tick=tick))


def choose_runs(facts: PlanFacts, *, tick: Callable[[int], None] | None = None) -> Made:
    """Choose the runs of a make list.

    Equal facts give an equal list, whatever the order of their rows.

    Parameters
    ----------
    facts
        Everything that the list depends on.
    tick
        Called with the minute of each decision, to show progress.
    """
    plant = plant_of(facts.in_order())
    opening = opening_of(plant)
    before = supply_state(plant, opening)
    state = supply_state(plant, opening, tables=before.tables)
    floor, rules = opening.floor.copy(), rules_of(plant)
    pinned = place_pinned(floor, state, rules=rules)
    # What was sized by hand is made once, exactly so often, and not again on this list.
    after_pinned = replace(rules, exact=dict.fromkeys(rules.exact, 0))
    if plant.facts.parameters.search_moves:
        near = plant_of(first_days(plant.facts))
        chosen = fill_lines(floor, state, rules=after_pinned, until_min=near.end_min, tick=tick)
        made = Made(opening, before, state, floor, rules, (*pinned, *chosen)).joined()
        return filled_up(improved(made, near), from_min=near.end_min, tick=tick)
    chosen = fill_lines(floor, state, rules=after_pinned, tick=tick)
    late = place_late(floor, state, rules=after_pinned)
    return with_exchanges(Made(opening, before, state, floor, rules, (*pinned, *chosen, *late)).joined())


def nothing_made(plant: Plant) -> Made:
    """Return a list with no runs, to lay lots out on: what stood before it and the planner's instructions."""
    opening = opening_of(plant)
    before = supply_state(plant, opening)
    return Made(opening, before, before, opening.floor, rules_of(plant), ())


def rules_of(plant: Plant) -> Rules:
    """Return what the planner's instructions allow and fix."""
    index = {sku.code: i for i, sku in enumerate(plant.facts.skus)}
    rows = plant.facts.instructions
    forbidden = {row.filament for row in rows if row.kind == InstructionKind.FORBID}
    share, shortest = plant.facts.parameters.least_lot_share, plant.facts.parameters.min_run_min
    return Rules(
        allowed=frozenset(plant.filaments) - forbidden,
        exact={index[row.sku]: row.spools for row in rows if row.sku is not None and row.spools is not None},
        least_min={
            code: max(share * days * winding_min_per_day(plant, code), shortest)
            for code, days in outlook_of(plant).run_days.items()
        },
    )


def _with_words(made: Made) -> Plan:
    plant, opening = made.floor.plant, made.opening
    order = made.ranked()
    blocked, others = left_out(made, order)
    outlook, least = outlook_of(plant), least_misses(made)
    limits = limits_of(made, not_made=_cannot_be_made(blocked, others))
    return Plan(
        made=made,
        runs=tuple(listed(made, order)),
        blocked=blocked,
        left_out=others,
        assumptions=(
            misses_sentence(plant, limits, misses=made.misses, on_its_days=made.misses_on_its_days),
            limits_sentence(plant, limits),
            *assumptions(plant.facts, outlook),
            gap_sentence(made.misses, least),
        ),
        outlook=outlook,
        misses_without=made.misses_of(opening.supply),
        misses_with=made.misses,
        least_misses=least,
        limits=limits,
        limit=limit_words(plant, limits),
    )


def _cannot_be_made(blocked: Sequence[BlockedRun], others: Sequence[LeftOut]) -> set[str]:
    """Return the filaments that lack materials, a line, or the planner's leave."""
    forbidden = {left.filament for left in others if left.cause in {Cause.FORBIDDEN, Cause.NO_LINE}}
    return forbidden | {run.lot.filament for run in blocked}


def listed(made: Made, order: Sequence[RankedRun]) -> Iterator[ListedRun]:
    """Return the ranked runs of a list, each with its sentence."""
    plant, supply = made.floor.plant, made.opening.supply.copy()
    before: dict[str, int] = {}
    for row in order:
        filament = row.run.lot.filament
        need, after = need_of(plant, supply, filament), before.get(filament)
        limited_by = _limited_by(plant, made.floor.store, row.run)
        yield ListedRun(
            row, need.out_on, after, run_reason(plant, row, need=need, after_rank=after, limited_by=limited_by)
        )
        before[filament] = row.rank
        for s, arrivals in zip(plant.skus_of[filament], row.run.arrivals, strict=True):
            supply[s] = with_arrivals(supply[s], arrivals)


def _limited_by(plant: Plant, store: StoreBoard, run: TimedRun) -> list[str]:
    """Return the items of which not one more spool of the run could be made."""
    filament = run.lot.filament
    spare = {item: left for item, left in store.left.items() if left >= 0}
    smallest = min(range(len(run.lot.spools)), key=lambda i: plant.facts.skus[plant.skus_of[filament][i]].target_kg)
    one = [int(i == smallest) for i in range(len(run.lot.spools))]
    more = needs_of(plant, run.line, filament, filament, one)
    return sorted(item for item, quantity in more.items() if item in store.left and spare.get(item, 0.0) < quantity)
