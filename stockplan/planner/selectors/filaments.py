"""One filament as its planner sees it: its sizes, the lines that can make it, the instructions in force."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from django.db.models import Prefetch, Q

from forecasting.messages import Message, counted, message
from inventory.models import Filament, Line, Sku
from stockplan.planner.errors import PlanningError
from stockplan.planner.models import ListedRun, ListedRunSize, MakeList, NotListed, PlannerInstruction


class FilamentNotFoundError(PlanningError):
    """There is no filament of that code."""

    code = "filament_not_found"


@dataclass(frozen=True)
class InstructionRow:
    """An instruction in force, in words."""

    id: int
    kind: str
    filament_code: str
    colour_hex: str
    sentence: Message
    last_day: date | None
    note: str


@dataclass(frozen=True)
class FilamentSize:
    """One size on which a filament is sold, with what the books hold of it."""

    sku_code: str
    name: str
    net_g: int
    is_stocked: bool
    on_shelf: int
    free: int


@dataclass(frozen=True)
class FilamentDetail:
    """A filament, its sizes and the lines that can make it."""

    code: str
    material_name: str
    colour_name: str
    colour_hex: str
    diameter_mm: float
    line_codes: tuple[str, ...]
    sizes: tuple[FilamentSize, ...]


@dataclass(frozen=True)
class ListedOfFilament:
    """One run of a filament on a make list: spools by SKU code."""

    rank: int
    line_code: str | None
    place_on_line: int | None
    reason: Message
    spools: Mapping[str, int]


@dataclass(frozen=True)
class SaidOfFilament:
    """What the newest make list says of a filament: its runs by rank, or why there is none."""

    runs: tuple[ListedOfFilament, ...]
    why_not: Message | None


def said_of_filament(code: str) -> SaidOfFilament:
    """Return what the newest make list says of a filament; nothing where there is no list. Three queries."""
    newest = MakeList.objects.order_by("-as_of", "-created_at").values("pk")[:1]
    sizes = Prefetch("sizes", ListedRunSize.objects.select_related("sku__item"))
    runs = ListedRun.objects.filter(make_list=newest, filament__code=code).select_related("line")
    why_not = NotListed.objects.filter(make_list=newest, filament__code=code).values_list("sentence", flat=True)
    return SaidOfFilament(
        runs=tuple(_listed(run) for run in runs.prefetch_related(sizes).order_by("rank")),
        why_not=why_not.first(),
    )


def _listed(run: ListedRun) -> ListedOfFilament:
    return ListedOfFilament(
        rank=run.rank,
        line_code=run.line.code if run.line else None,
        place_on_line=run.place_on_line,
        reason=run.reason,
        spools={size.sku.item.code: size.spools for size in run.sizes.all()},
    )


def live_instructions(*, today: date, filament_code: str | None = None) -> list[InstructionRow]:
    """Return the instructions that hold today, of all filaments or of one. One query."""
    rows = PlannerInstruction.objects.filter(
        Q(last_day__isnull=True) | Q(last_day__gte=today), withdrawn_at__isnull=True
    ).select_related("filament__colour", "line", "sku__item", "sku__spool_size")
    if filament_code is not None:
        rows = rows.filter(filament__code=filament_code)
    return [_instruction_row(row) for row in rows.order_by("filament__code", "id")]


def filament_detail(code: str) -> FilamentDetail:
    """Return one filament. Three queries.

    Raises
    ------
    FilamentNotFoundError
        If there is no filament of that code.
    """
    filament = Filament.objects.select_related("material", "colour", "diameter").filter(code=code).first()
    if filament is None:
        raise FilamentNotFoundError("There is no filament {code}.", code=code)
    lines = Line.objects.filter(speeds__filament=filament, is_active=True).order_by("code")
    skus = filament.skus.select_related("item", "spool_size", "shelf_stock").order_by("spool_size__net_g")
    return FilamentDetail(
        code=filament.code,
        material_name=filament.material.name,
        colour_name=filament.colour.name,
        colour_hex=filament.colour.hex,
        diameter_mm=float(filament.diameter.nominal_mm),
        line_codes=tuple(lines.values_list("code", flat=True)),
        sizes=_sizes(skus),
    )


def _sizes(skus: Iterable[Sku]) -> tuple[FilamentSize, ...]:
    return tuple(
        FilamentSize(
            sku_code=sku.item.code,
            name=sku.item.name,
            net_g=sku.spool_size.net_g,
            is_stocked=sku.is_stocked,
            on_shelf=sku.shelf_stock.on_shelf if hasattr(sku, "shelf_stock") else 0,
            free=sku.shelf_stock.free if hasattr(sku, "shelf_stock") else 0,
        )
        for sku in skus
    )


def _instruction_row(row: PlannerInstruction) -> InstructionRow:
    return InstructionRow(
        id=row.pk,
        kind=row.kind,
        filament_code=row.filament.code,
        colour_hex=row.filament.colour.hex,
        sentence=_sentence(row),
        last_day=row.last_day,
        note=row.note,
    )


def _sentence(row: PlannerInstruction) -> Message:
    known = {"instruction": _what(row), "line": row.line.code if row.line else ""}
    if row.place:
        return message("{instruction} on line {line}, place {place} behind the released runs", **known, place=row.place)
    return message("{instruction} on line {line}", **known) if row.line else _what(row)


def _what(row: PlannerInstruction) -> Message:
    if row.kind == PlannerInstruction.Kind.RESIZE and row.sku:
        return counted(
            "make exactly {n} spool of {sku}",
            "make exactly {n} spools of {sku}",
            n=row.spools or 0,
            sku=row.sku.item.code,
        )
    return message("make it") if row.kind == PlannerInstruction.Kind.PIN else message("do not make it")
