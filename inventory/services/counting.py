"""Blind cycle counts: a sheet is opened, counted line by line, and closed."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.contrib.auth.models import AbstractBaseUser

from inventory.errors import ConflictError, InvalidInputError, NotFoundError
from inventory.models import CountEntry, CountLine, CountSheet, Place, Sku
from inventory.rules.clock import Clock
from inventory.rules.counting import CountResult
from inventory.selectors.counting import classes_of_skus
from inventory.services.counts import book_quantity, post_count
from inventory.services.lookup import skus_by_code
from inventory.services.places import place
from inventory.services.taking import lock_item
from inventory.services.texts import check_length
from inventory.services.transactions import in_one_transaction

MOST_LINES = 500
MOST_SPOOLS = 100_000
MAX_NOTE_LENGTH = 100


class CountSheetError(ConflictError):
    """The sheet or one of its lines is not in a state in which this can be done."""

    code = "count_sheet"


@dataclass(frozen=True)
class Counted:
    """What became of a count: whether its line is settled, or is to be counted again."""

    sku_code: str
    counts: int
    state: str


@in_one_transaction
def open_count_sheet(
    *,
    clock: Clock,
    sku_codes: Sequence[str] = (),
    shelf_places: Sequence[str] = (),
    tolerance_share: Decimal = Decimal(0),
    opened_by: AbstractBaseUser | None = None,
) -> CountSheet:
    """Open a sheet for SKUs that are named, or for all that belong to shelf places, in the order of the places.

    Raises
    ------
    InvalidInputError
        If nothing or too much is to be counted, or the tolerance is no share.
    NotFoundError
        If a SKU does not exist or no SKU belongs to a place.
    CountSheetError
        If a SKU waits on another sheet.
    """
    if not (tolerance_share.is_finite() and 0 <= tolerance_share < 1 and tolerance_share == round(tolerance_share, 4)):
        raise InvalidInputError(
            "tolerance_share {tolerance_share} must be 0 to below 1, at most 4 decimals.",
            tolerance_share=tolerance_share,
            pointer="/tolerance_share",
        )
    skus = _skus(sku_codes, shelf_places)
    _refuse_waiting(skus)
    sheet = CountSheet.objects.create(
        code=uuid.uuid4().hex,
        tolerance_share=tolerance_share,
        opened_at=clock.occurred_at,
        known_at=clock.known_at,
        opened_by_id=None if opened_by is None else opened_by.pk,
    )
    # The number comes from the database, so that two sheets at once never share a code.
    sheet.code = f"C{sheet.pk:06d}"
    sheet.save(update_fields=["code"])
    classes = classes_of_skus(as_of=clock.known_at)
    CountLine.objects.bulk_create(
        CountLine(sheet=sheet, sku=sku, shelf_place=sku.shelf_place, value_class=classes[sku.pk]) for sku in skus
    )
    return sheet


@in_one_transaction
def record_count(
    *,
    sheet_code: str,
    sku_code: str,
    counted: int,
    clock: Clock,
    note: str = "",
    counted_by: AbstractBaseUser | None = None,
) -> Counted:
    """Write one count of a SKU on the shelf; settle its line and post the difference, or ask for another count.

    A count is believed within the tolerance of the sheet, or when the count before it found the same difference.
    What was counted is compared with the books at the instant of the count. The answer does not say what they hold.

    Raises
    ------
    NotFoundError
        If the sheet does not exist, or the SKU is not on it.
    CountSheetError
        If the line is settled or dropped.
    InvalidInputError
        If the number is absurd, the note too long, or the count from before the sheet or before the last count.
    CountContradictedError
        If more left the shelf after the count than was counted.
    """
    line = _locked_line(sheet_code, sku_code)
    earlier = line.entries.order_by("-number").first()
    _check_count(line, earlier, counted=counted, note=note, clock=clock)
    lock_item(line.sku.item, clock=clock)
    shelf = place(Place.Kind.SHELF)
    book = book_quantity(item=line.sku.item, where=shelf, lot=None, clock=clock)
    result = CountResult(counted=counted, book=int(book))
    entry = CountEntry.objects.create(
        line=line,
        number=1 if earlier is None else earlier.number + 1,
        counted_spools=result.counted,
        book_spools=result.book,
        note=note,
        occurred_at=clock.occurred_at,
        known_at=clock.known_at,
        counted_by_id=None if counted_by is None else counted_by.pk,
    )
    before = None if earlier is None else CountResult(counted=earlier.counted_spools, book=earlier.book_spools)
    if result.settles_after(before, tolerance_share=line.sheet.tolerance_share):
        _settle(line, result, note=note, clock=clock, counted_by=counted_by)
    else:
        line.state = CountLine.State.AGAIN
    line.save()
    return Counted(sku_code=sku_code, counts=entry.number, state=line.state)


@in_one_transaction
def close_count_sheet(*, sheet_code: str, clock: Clock) -> int:
    """Drop what is not settled of a sheet, so that it can be counted on another one. Returns the number of lines.

    Raises
    ------
    NotFoundError
        If the sheet does not exist.
    CountSheetError
        If it is closed already.
    InvalidInputError
        If it would close before it was opened.
    """
    sheet = _locked_sheet(sheet_code)
    if sheet.closed_at is not None:
        raise CountSheetError(
            "Count sheet {sheet} was closed at {closed_at}.", sheet=sheet_code, closed_at=sheet.closed_at
        )
    if clock.occurred_at < sheet.opened_at:
        raise InvalidInputError(
            "Count sheet {sheet} was opened at {opened_at}; it cannot close at {occurred_at}.",
            sheet=sheet_code,
            opened_at=sheet.opened_at,
            occurred_at=clock.occurred_at,
            pointer="/occurred_at",
        )
    sheet.closed_at = clock.occurred_at
    sheet.save(update_fields=["closed_at"])
    return CountLine.objects.filter(sheet=sheet, state__in=CountLine.WAITING).update(state=CountLine.State.DROPPED)


def _skus(sku_codes: Sequence[str], shelf_places: Sequence[str]) -> list[Sku]:
    if bool(sku_codes) == bool(shelf_places):
        raise InvalidInputError("Name either the SKUs or the shelf places to count.", pointer="/skus")
    if sku_codes:
        skus = list(skus_by_code(sku_codes, pointer="/skus").values())
    else:
        skus = list(Sku.objects.filter(shelf_place__in=shelf_places).select_related("item"))
        if missing := sorted(set(shelf_places) - {sku.shelf_place for sku in skus}):
            raise NotFoundError(
                "No SKU belongs to shelf place {missing}.", missing=", ".join(map(repr, missing)), pointer="/places"
            )
    if len(skus) > MOST_LINES:
        raise InvalidInputError(
            "{n} SKUs to count: at most {most} fit on a sheet.", n=len(skus), most=MOST_LINES, pointer="/skus"
        )
    return sorted(skus, key=lambda sku: (sku.shelf_place, sku.item.code))


def _refuse_waiting(skus: Iterable[Sku]) -> None:
    # By id, as every service locks SKUs; two sheets at once then wait for each other instead of both finding it free.
    list(Sku.objects.filter(pk__in=[sku.pk for sku in skus]).order_by("pk").select_for_update().values_list("pk"))
    waiting = CountLine.objects.filter(sku__in=skus, state__in=CountLine.WAITING).select_related("sheet", "sku__item")
    if line := waiting.order_by("sku__item__code").first():
        raise CountSheetError(
            "SKU {sku} waits on sheet {sheet}; count or close it first.", sku=line.sku.item.code, sheet=line.sheet.code
        )


def _locked_sheet(code: str) -> CountSheet:
    sheet = CountSheet.objects.select_for_update().filter(code=code).first()
    if sheet is None:
        raise NotFoundError("Count sheet {code!r} does not exist.", code=code)
    return sheet


def _locked_line(sheet_code: str, sku_code: str) -> CountLine:
    sheet = _locked_sheet(sheet_code)
    line = CountLine.objects.select_related("sku__item").filter(sheet=sheet, sku__item__code=sku_code).first()
    if line is None:
        raise NotFoundError(
            "SKU {sku!r} is not on count sheet {sheet}.", sku=sku_code, sheet=sheet_code, pointer="/sku"
        )
    if line.state not in CountLine.WAITING:
        raise CountSheetError(
            "SKU {sku} on sheet {sheet} is {state}.",
            sku=sku_code,
            sheet=sheet_code,
            state=line.get_state_display(),
            pointer="/sku",
        )
    line.sheet = sheet
    return line


def _check_count(line: CountLine, earlier: CountEntry | None, *, counted: int, note: str, clock: Clock) -> None:
    if not 0 <= counted <= MOST_SPOOLS:
        raise InvalidInputError(
            "{counted} spools counted: 0 to {most} are allowed.", counted=counted, most=MOST_SPOOLS, pointer="/counted"
        )
    check_length("note", note, most=MAX_NOTE_LENGTH)
    earliest = line.sheet.opened_at if earlier is None else earlier.occurred_at
    if clock.occurred_at < earliest:
        raise InvalidInputError(
            "A count at {occurred_at} is before {earliest}, when the sheet was opened or its SKU counted before.",
            occurred_at=clock.occurred_at,
            earliest=earliest,
            pointer="/occurred_at",
        )


def _settle(
    line: CountLine, result: CountResult, *, note: str, clock: Clock, counted_by: AbstractBaseUser | None
) -> None:
    where = f" at {line.shelf_place}" if line.shelf_place else ""
    line.movement = post_count(
        sku_code=line.sku.item.code,
        place_kind=Place.Kind.SHELF,
        counted=Decimal(result.counted),
        clock=clock,
        posted_by=counted_by,
        reason=f"cycle count{where}" + (f": {note}" if note else ""),
        document=line.sheet.code,
    )
    line.state = CountLine.State.SETTLED
    line.counted_spools, line.book_spools = result.counted, result.book
    line.settled_at, line.settled_known_at = clock.occurred_at, clock.known_at
