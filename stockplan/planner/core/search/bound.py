"""A lower bound on what any plan of a search problem costs.

What couples the families is relaxed and priced by multipliers, each family then costs what its own cheapest lots cost:

- line minutes: for each day d on which lots can arrive, all lots that arrive by d take no more minutes than the lines
  have from the first release until their last minute that counts for d. Equal lines share a multiplier.
- last lots: after its last setup a line winds one lot. So no more lots than lines arrive on late days, those on which
  only such lots do. They take none of the minutes, which are those for the days before.
- items: all lots together take no more of an item than there is, those of a family by themselves neither.
- lines that go on: a lot without a setup directly follows one of its own family (or what its line holds at the
  start), so its line is of no use to another such lot when the day of the earlier one closes. Among families that
  arrive on the same days there are no more of them at a time than lines.
- units stay: a lot takes nothing off what there is of an SKU.
- visits: a family has no more lots on a day than visits of lines, which pay for what setups take beyond the least; see
  `visits`. Their multipliers are improved last, from those of all the others.

A minute of line l for a lot that arrives on day d costs the sum pi(l, d) of its multipliers from d on, which does not
rise with d. A family is a shortest path over the days on which it has a lot: between two such days s < t each of its
SKUs has some supply x, which costs

    min over x of  cost of the days s..t-1 at x  +  x (p(s) - p(t)),

where p(d) is the least price of a unit on any line, with its items. A lot pays the least setup from another family on
any line, or goes on and pays for holding a line from s to t. On a path supply may shrink from one lot to the next, at
the price of units taken back, and setup and units of one lot may be of different lines. All of this makes a plan
cheaper, so the value is a bound, convex costs or not. Multipliers are improved by subgradient steps, each turned away
from the one before where they disagree.

References
----------
Fisher, The Lagrangian relaxation method for solving integer programming problems, Management Science 27 (1981) 1-18.
Camerini, Fratta & Maffioli, On improving relaxation methods by modified gradient techniques, Mathematical Programming
Study 3 (1975) 26-34. Both from memory.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from stockplan.planner.core.search.families import Families, Load
from stockplan.planner.core.search.problem import Floats, Ints, SearchProblem
from stockplan.planner.core.search.relaxed import Relaxed, relaxed_of
from stockplan.planner.core.search.visits import together

STEPS = 150
# Steps aim at a share of what is between the bound and the plan. After so many that did not raise the bound it falls.
PATIENCE, LESS = 4, 0.7
# How far a direction is turned from the one before: 1 makes them orthogonal.
TURN = 1.5
# Multipliers are of shares of what there is; of visits, of which there are none, of so many, and of units taken back of
# so many times the most that may be made.
VISIT_SCALE, TAKEN_BACK_SCALE = 3.0, 2.0


def lower_bound(problem: SearchProblem, *, above: float, steps: int = STEPS) -> float:
    """Return a cost that no plan goes below.

    Parameters
    ----------
    above
        Cost of some plan; sets the length of the steps.
    steps
        Work, in subgradient steps; twice as many where visits count.
    """
    relaxed = relaxed_of(problem)
    plain = climbed(_without_visits(relaxed), above=above, steps=steps)
    if not relaxed.visit_days:
        return plain.cost
    # Multipliers of visits rise from nothing, so the bound can only become higher.
    price = replace(_load(_without_visits(relaxed), plain.price), visits=_capacity(relaxed).visits)
    return climbed(relaxed, above=above, steps=steps, price=_flat(price)).cost


def _turned(rise: Floats, before: Floats) -> Floats:
    """Return the rise, turned away from the direction before where they disagree, but not so far as to fall."""
    along, length = float(rise @ before), float(before @ before)
    if along >= 0:
        return rise
    turned = rise - TURN * along / length * before
    return turned if float(turned @ rise) > 0 else rise


def _without_visits(relaxed: Relaxed) -> Relaxed:
    return replace(relaxed, groups=together(len(relaxed.groups.of)))


@dataclass(frozen=True)
class Climbed:
    """The highest bound, its multipliers, and the lots at its prices: (F, D) one where a lot arrives, (S, D) units."""

    cost: float
    price: Floats
    is_lot: Ints
    made: Floats


def climbed(relaxed: Relaxed, *, above: float, steps: int, price: Floats | None = None) -> Climbed:
    """Return the bound of a relaxed problem after some steps from some multipliers; see `lower_bound`."""
    families = Families(relaxed)
    capacity = _capacity(relaxed)
    have = _flat(capacity)
    scale = np.maximum(_flat(_scaled(capacity, relaxed.tables.rows - 1)), 1.0)
    price = np.zeros_like(have) if price is None else price
    direction = np.zeros_like(have)
    best, share, waited = Climbed(-np.inf, price, *families.lots), 1.0, 0
    for _ in range(steps):
        cost, used = families.cheapest(_load(relaxed, price / scale))
        value = cost - float(price / scale @ have)
        waited = 0 if value > best.cost + 1e-9 else waited + 1
        if value > best.cost:
            best = Climbed(value, price, *families.lots)
        if waited == PATIENCE:
            share, waited = share * LESS, 0
        rise = (_flat(used) - have) / scale
        rise = np.where((price <= 0) & (rise < 0), 0.0, rise)
        direction = _turned(rise, direction)
        length = float(direction @ direction)
        if length < 1e-12 or above - value < 1e-9:
            break
        price = np.maximum(price + (best.cost + share * (above - best.cost) - value) / length * direction, 0.0)
    return best


def _scaled(capacity: Load, most: Ints) -> Load:
    """Return what multipliers are shares of."""
    return replace(
        capacity,
        visits=np.full_like(capacity.visits, VISIT_SCALE),
        taken_back=np.repeat(TAKEN_BACK_SCALE * most[:, None], capacity.taken_back.shape[1], axis=1),
    )


def _capacity(r: Relaxed) -> Load:
    holding = np.full((r.classes, r.late.shape[1] + 1), float(r.lines))
    return Load(
        r.capacity,
        holding,
        r.items.stock,
        np.array([float(r.lines)]),
        np.zeros((len(r.groups.of), r.visit_days)),
        np.zeros((len(r.family_of), r.late.shape[1])),
    )


def _flat(load: Load) -> Floats:
    parts = load.minutes, load.holding, load.items, load.last, load.visits, load.taken_back
    return np.concatenate([part.ravel() for part in parts])


def _load(r: Relaxed, flat: Floats) -> Load:
    families, days = r.late.shape
    shapes = (r.capacity.shape, (r.classes, days + 1), (len(r.items.stock),), (1,), (families, r.visit_days))
    parts = np.split(flat, np.cumsum([int(np.prod(shape)) for shape in shapes]))
    return Load(*(part.reshape(shape) for part, shape in zip(parts, (*shapes, (-1, days)), strict=True)))
