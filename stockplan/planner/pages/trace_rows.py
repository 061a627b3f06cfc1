"""Tables of a trace, for CSV, and what an address says that it begins with: `?order=`, `?run=` or `?lot=`."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from urllib.parse import urlencode

from django.http import Http404, HttpRequest, QueryDict

from inventory.errors import NotFoundError
from inventory.selectors.lots import Trace, trace_lot, trace_order, trace_run
from stockplan.planner.pages.typed import whole_number

Rows = Iterable[tuple[object, ...]]

DELIVERED = ("order", "channel", "reference", "ship_to", "shipment", "ship_day", "lot", "sku", "run", "spools")
PLACES = ("lot", "item", "place", "is_in_plant", "quantity", "unit")
SPOOLS = ("lot", "sku", "run", "spools", "is_held")
MATERIALS = ("lot", "item", "supplier_lot", "run", "quantity", "is_unexplained")


def _of_order(key: str) -> Trace:
    order_id = whole_number(key)
    if order_id is None:
        raise NotFoundError("There is no order {key!r}.", key=key)
    return trace_order(order_id)


BEGINNINGS: Mapping[str, Callable[[str], Trace]] = {"order": _of_order, "run": trace_run, "lot": trace_lot}


@dataclass(frozen=True)
class Begun:
    """A trace and what it began with."""

    kind: str
    key: str
    trace: Trace

    @property
    def query(self) -> str:
        """The part of an address that names this trace."""
        return urlencode({self.kind: self.key})

    @property
    def lots(self) -> list[str]:
        """The lots that a recall takes back: those of spools, and the lot that it began with."""
        return sorted({row.lot_code for row in self.trace.spools} | ({self.key} if self.kind == "lot" else set()))


def begun(given: QueryDict) -> Begun | None:
    """Return the trace that the parameters name, None where they name nothing; Http404 where there is none."""
    kind = next((name for name in BEGINNINGS if given.get(name)), None)
    if kind is None:
        return None
    key = str(given[kind])
    try:
        return Begun(kind, key, BEGINNINGS[kind](key))
    except NotFoundError as error:
        raise Http404(str(error)) from error


def begun_or_404(given: QueryDict) -> Begun:
    """Return the trace that the parameters name, or answer that they must name one."""
    found = begun(given)
    if found is None:
        raise Http404("Name a lot, a run or an order.")
    return found


def delivered(request: HttpRequest) -> Rows:
    """Every delivery to a customer."""
    found = begun_or_404(request.GET).trace
    by_lot = {row.lot_code: row for row in found.spools}
    for row in found.delivered:
        spool = by_lot[row.lot_code]
        parcel = (row.channel_code, row.reference, row.ship_to, row.shipment_id, row.ship_day)
        yield (row.order_id, *parcel, row.lot_code, spool.sku_code, spool.run_code or "", row.quantity)


def places(request: HttpRequest) -> Rows:
    """Where all of it lies, in and out of the plant."""
    for row in begun_or_404(request.GET).trace.places:
        yield row.lot_code, row.item_code, row.place_code, row.is_in_plant, row.quantity, row.unit


def spools(request: HttpRequest) -> Rows:
    """Lots of spools that were wound."""
    for row in begun_or_404(request.GET).trace.spools:
        yield row.lot_code, row.sku_code, row.run_code or "", row.quantity, row.is_held


def materials(request: HttpRequest) -> Rows:
    """Lots of material that went in, and runs that may hold some without a word in the books."""
    found = begun_or_404(request.GET).trace
    for row, is_unexplained in [(row, False) for row in found.materials] + [(row, True) for row in found.unexplained]:
        yield row.lot_code, row.item_code, row.supplier_lot, row.run_code, row.quantity, is_unexplained
