"""Roles of people, as groups: what each may do through the API and see or change in the admin."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.contrib.auth.models import Group, Permission

from stockplan.access.models import Scope

if TYPE_CHECKING:
    from django.contrib.auth.models import User

CATALOGUE = ("item", "material", "colour", "diameter", "spoolsize", "filament", "sku")
PLANT = (
    "plantparameters", "workday", "closure", "line", "linespeed", "changeover", "dryer", "hopper", "oven", "cart",
    "cartspools", "shift", "crew", "channel",
)  # fmt: skip
ORDERS = (
    "order", "orderline", "orderlinechange", "allocation", "promisechange", "shipment", "shipmentline",
)  # fmt: skip
FLOOR = ("run", "runoutput", "runplan", "runstop", "ovenload", "diameterreport", "spoolweighing")
# Who is told of what, and the deliveries that were given up: an owner may send these again.
WEBHOOKS = ("webhookendpoint", "webhookmessage", "webhookdelivery")
STOCK = ("lot", "shelfstock", "balance", "place", "movement", "movementline")
# Counts are blind: who counts does not see what the books say.
COUNTS = ("countsheet", "countline")
PLANS = ("forecastrun", "skuforecast", "stocktarget", "makelist", "listedrun", "listedrunsize", "notlisted")
INSTRUCTIONS = ("plannerinstruction", "announceddemand")
LEARNED = ("acceptedfigures",)
EDIT = ("view", "add", "change", "delete")


@dataclass(frozen=True)
class Role:
    """A role of people.

    Parameters
    ----------
    scopes : frozenset of Scope
        What a member may do through the API when logged in.
    sees, edits : tuple of str
        Model names that the admin shows, and those that it lets a member change. The ledger, orders, runs and plans
        are changed through services only, by nobody in the admin.
    """

    scopes: frozenset[Scope]
    sees: tuple[str, ...]
    edits: tuple[str, ...] = ()


# Nobody gets `replay` by a role: it restates the past and belongs to a token made for it.
ROLES: dict[str, Role] = {
    "sales": Role(
        scopes=frozenset({Scope.STOCK_READ, Scope.ORDERS, Scope.SERVICE_READ}),
        sees=CATALOGUE + ORDERS + ("channel", "shelfstock"),
    ),
    "planner": Role(
        scopes=frozenset({Scope.STOCK_READ, Scope.PLAN, Scope.SERVICE_READ}),
        sees=CATALOGUE + PLANT + ORDERS + FLOOR + STOCK + COUNTS + PLANS + LEARNED,
        edits=(*INSTRUCTIONS, "closure"),
    ),
    "floor": Role(
        scopes=frozenset({Scope.STOCK_READ, Scope.FLOOR, Scope.SHIP}),
        sees=CATALOGUE + PLANT + ORDERS + FLOOR + STOCK,
    ),
    "owner": Role(
        scopes=frozenset(Scope) - {Scope.REPLAY},
        sees=CATALOGUE + PLANT + ORDERS + FLOOR + STOCK + COUNTS + PLANS + LEARNED + WEBHOOKS + ("ledgerseal",),
        edits=(*CATALOGUE, *PLANT, *INSTRUCTIONS, "webhookdelivery", "apitoken"),
    ),
}


def scopes_of_user(user: User) -> frozenset[str]:
    """Return what a logged-in person may do: all of their roles together. One query; none for a superuser."""
    if user.is_superuser:
        return frozenset(str(scope) for scope in Scope if scope is not Scope.REPLAY)
    names = user.groups.values_list("name", flat=True)
    return frozenset(str(scope) for name in names if name in ROLES for scope in ROLES[name].scopes)


def set_up_roles() -> list[Group]:
    """Create the groups, and give each exactly the admin permissions of its role. Safe to repeat."""
    return [_set_up_role(name, role) for name, role in ROLES.items()]


def _set_up_role(name: str, role: Role) -> Group:
    group, _ = Group.objects.get_or_create(name=name)
    codenames = {f"view_{model}" for model in role.sees}
    codenames |= {f"{verb}_{model}" for model in role.edits for verb in EDIT}
    group.permissions.set(_permissions(codenames))
    return group


def _permissions(codenames: Iterable[str]) -> list[Permission]:
    ours = Permission.objects.filter(content_type__app_label__in=("inventory", "planner", "access"))
    return list(ours.filter(codename__in=codenames))
