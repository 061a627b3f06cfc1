"""The working pages of the site: which there are, whom they are for, and what they are for."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib.auth.models import AnonymousUser, User
from django.urls import reverse
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _


@dataclass(frozen=True)
class WorkingPage:
    """One entry of the navigation: its route, whom it is for and its two lines of help."""

    route: str
    title: Promise
    role: Promise
    permission: str
    purpose: Promise

    @property
    def path(self) -> str:
        return reverse(self.route)


WORKING_PAGES = (
    WorkingPage(
        route="pages:stock",
        title=_("Stock"),
        role=_("sales"),
        permission="inventory.view_shelfstock",
        purpose=_(
            "Find a spool by words, code or GTIN and read what is on the shelf, what of it is still free, "
            "when more arrives, and on which day an order placed now leaves the house."
        ),
    ),
    WorkingPage(
        route="pages:due",
        title=_("Due today"),
        role=_("packing and sales"),
        permission="inventory.view_shipment",
        purpose=_(
            "The orders that should leave with the next pick-up: what to take from which shelf place, what to pack "
            "first because they wait for it, and what cannot leave and why."
        ),
    ),
    WorkingPage(
        route="pages:make-list",
        title=_("Make list"),
        role=_("planner"),
        permission="planner.view_makelist",
        purpose=_(
            "What the lines should run next, the most useful run first, each with its reason. "
            "Release what you agree with; change what you know better, then compute the list again."
        ),
    ),
    WorkingPage(
        route="pages:week",
        title=_("Week on paper"),
        role=_("planner"),
        permission="planner.view_makelist",
        purpose=_(
            "What each line makes, released or not, in its order, to print and hang up "
            "beside it. Times are in the plant's zone."
        ),
    ),
    WorkingPage(
        route="pages:purchases",
        title=_("To buy"),
        role=_("planner and owner"),
        permission="planner.view_makelist",
        purpose=_(
            "Materials and parts to buy, by the last day on which they still come in time, as the lines would need "
            "them if the store set no limits."
        ),
    ),
    WorkingPage(
        route="pages:forecast",
        title=_("Forecast"),
        role=_("planner and owner"),
        permission="planner.view_skuforecast",
        purpose=_(
            "How good the forecast is that stock and make list stand on: its loss against plain methods, class by "
            "class, and whether its quantiles mean what they say."
        ),
    ),
    WorkingPage(
        route="pages:learned",
        title=_("Learned"),
        role=_("planner and owner"),
        permission="planner.view_makelist",
        purpose=_(
            "What finished runs say of winding time, scrap and changeovers, beside what is entered; figures of few "
            "runs are drawn towards it. What you accept is entered for the line and used from the next list on."
        ),
    ),
    WorkingPage(
        route="pages:replays",
        title=_("Replays"),
        role=_("planner and owner"),
        permission="planner.view_makelist",
        purpose=_(
            "What the make list or a plain rule would have come to on past days, with only what was known on each "
            "morning, and what more or less stock would have bought."
        ),
    ),
    WorkingPage(
        route="pages:line-choice",
        title=_("Line"),
        role=_("floor"),
        permission="inventory.view_run",
        purpose=_(
            "Choose the line beside which this tablet hangs. Its page shows what runs and what comes next, in "
            "large letters, and takes what you report."
        ),
    ),
    WorkingPage(
        route="pages:ovens",
        title=_("Oven and packing"),
        role=_("packing"),
        permission="inventory.view_ovenload",
        purpose=_(
            "What is dry and goes onto the shelf now, what dries until when, and what to load tonight: the spools "
            "that orders wait for first."
        ),
    ),
    WorkingPage(
        route="pages:store",
        title=_("Store"),
        role=_("floor and packing"),
        permission="inventory.view_ovenload",
        purpose=_(
            "Report what came from a supplier, what left the shelf without an order, what customers sent back, and "
            "what you counted. Lots are held and released here."
        ),
    ),
    WorkingPage(
        route="pages:counts",
        title=_("Counts"),
        role=_("floor and packing"),
        permission="inventory.view_ovenload",
        purpose=_(
            "Count the shelf in rounds: what is most worth it, or whole shelf places. The sheet does not say what the "
            "books hold, and a count that differs from them is asked for once more."
        ),
    ),
    WorkingPage(
        route="pages:trace",
        title=_("Trace"),
        role=_("floor and owner"),
        permission="inventory.view_lot",
        purpose=_(
            "From an order back to the runs and the lots of resin in it, and from a lot forward to everything that "
            "was wound of it: where it lies, and every customer who got some of it. For a recall, hold all of it here."
        ),
    ),
    WorkingPage(
        route="pages:run-cards",
        title=_("Run cards"),
        role=_("floor"),
        permission="inventory.view_run",
        purpose=_(
            "The runs that are released or under way, by line, in the order of their start. "
            "Open the card of a run to print it on one page and take it to the line."
        ),
    ),
    WorkingPage(
        route="pages:owner",
        title=_("Owner"),
        role=_("owner"),
        permission="inventory.change_plantparameters",
        purpose=_(
            "Is the promise kept, week by week, and if not, why? What the shelf ties up, how the lines spend their "
            "hours, and what does not move. Every table goes out as CSV."
        ),
    ),
)


def pages_for(user: User | AnonymousUser) -> list[WorkingPage]:
    """Return the working pages that this user may open, in their fixed order."""
    return [page for page in WORKING_PAGES if user.has_perm(page.permission)]


def page_by_route(route: str) -> WorkingPage:
    """Return the entry of a route that has one."""
    return next(page for page in WORKING_PAGES if page.route == route)
