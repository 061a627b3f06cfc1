"""A tiny invented plant for the tests of the books: one line, two materials, three SKUs.

Every figure is chosen for sums that a reader can do by hand; none is a recommendation.

PLA-BLACK-1.75   let-down 2 %, spools dry 6 h at 45 to 55 degrees; sizes 1 kg and 250 g
PETG-NATURAL-1.75  no concentrate, spools need no oven; size 1 kg

Working week Monday to Friday in Europe/Berlin: cut-off 13:40, pick-up 16:00, ovens loaded 17:00,
packing from 06:00, shelved by 09:00; shifts 06:00 to 22:00.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.test import override_settings
from stdnum import ean

from inventory.models import (
    Channel,
    Colour,
    Crew,
    Diameter,
    Dryer,
    Filament,
    Hopper,
    Item,
    Line,
    LineSpeed,
    Lot,
    Material,
    Movement,
    Oven,
    PlantParameters,
    Run,
    RunOutput,
    ShelfStock,
    Shift,
    Sku,
    SpoolSize,
    WorkDay,
)
from inventory.rules.clock import Clock
from inventory.services.ledger import LineDraft, place, post_movement
from inventory.services.run_plans import note_output_plans, note_run_plan

ZONE = ZoneInfo("Europe/Berlin")


@dataclass(frozen=True)
class TinyPlant:
    line: Line
    oven: Oven
    hopper: Hopper
    channel: Channel
    black: Filament
    natural: Filament
    black_1kg: Sku
    black_250g: Sku
    natural_1kg: Sku


def local(text: str) -> datetime:
    """`local("2027-03-01 08:00")`: an aware instant on the plant's clock. 2027-03-01 is a Monday."""
    return datetime.fromisoformat(text).replace(tzinfo=ZONE)


def clock(text: str) -> Clock:
    """A fact that is posted as it happens, at the plant's local time."""
    return Clock.at(local(text))


def late(occurred: str, known: str) -> Clock:
    """A fact that the books learn of later than it happened."""
    return Clock(occurred_at=local(occurred), known_at=local(known))


def no_capacity(wanted: Collection[tuple[int, int]], *, as_of: datetime) -> dict[tuple[int, int], date | None]:
    """Stands in for the planner, which the books do not know: it names no day."""
    return dict.fromkeys(wanted)


def planner_names_no_day() -> override_settings:
    """Orders of the past, whose receipts nobody reads: to ask the planner reads the whole plant."""
    return override_settings(EARLIEST_CAPACITY_DAY=f"{__name__}.no_capacity")


def build_tiny_plant() -> TinyPlant:
    """Write the whole tiny plant: no stock, no orders."""
    _build_week()
    pla = _material("PLA", density="1.24", spool_dry=(45, 55, "6"))
    petg = _material("PETG", density="1.27", spool_dry=(60, 65, "0"))
    black_item = Item.objects.create(code="MB-BLACK", name="black concentrate", kind="concentrate", unit="kg")
    black_colour = Colour.objects.create(
        code="BLACK", name="Coal", hex="#1A1A1A", lab_l="9", concentrate_item=black_item, let_down_share="0.02"
    )
    natural_colour = Colour.objects.create(code="NATURAL", name="Natural", hex="#F2EFE6", lab_l="94")
    diameter = Diameter.objects.create(nominal_mm="1.75", tolerance_mm="0.03")
    one_kg, quarter = _spool_size("S1000", net_g=1000, tare_g=200), _spool_size("S250", net_g=250, tare_g=90)
    black = Filament.objects.create(code="PLA-BLACK-1.75", material=pla, colour=black_colour, diameter=diameter)
    natural = Filament.objects.create(code="PETG-NATURAL-1.75", material=petg, colour=natural_colour, diameter=diameter)
    line = _build_line(black, natural)
    dryer = Dryer.objects.create(code="D1", name="Dryer one")
    return TinyPlant(
        line=line,
        oven=Oven.objects.create(code="O1", name="Oven one", places=60, temperature_c=50),
        hopper=Hopper.objects.create(code="H1", dryer=dryer, capacity_kg="100"),
        channel=Channel.objects.create(code="WEB", name="web shop"),
        black=black,
        natural=natural,
        black_1kg=build_sku("PLA-BLACK-1000", filament=black, size=one_kg, number=1, value="9.00"),
        black_250g=build_sku("PLA-BLACK-250", filament=black, size=quarter, number=2, value="3.50"),
        natural_1kg=build_sku("PETG-NAT-1000", filament=natural, size=one_kg, number=3, value="10.00"),
    )


def build_sku(code: str, *, filament: Filament, size: SpoolSize, number: int, value: str) -> Sku:
    """One SKU with a GTIN of the demonstration prefix 952."""
    body = f"952{number:09d}"
    item = Item.objects.create(code=code, name=f"{filament.code} on {size.code}", kind="sku", unit="spool")
    return Sku.objects.create(
        item=item,
        filament=filament,
        spool_size=size,
        gtin=body + ean.calc_check_digit(body),
        value=value,
        active_from=date(2026, 1, 1),
    )


def build_supply(
    plant: TinyPlant, *, sku: Sku, quantity: int, shelf_day: date, code: str, released: str = "2027-03-01 07:00"
) -> RunOutput:
    """A released run with one awaited output on a stated shelf day, written without the run services."""
    at = local(released)
    run = Run.objects.create(
        code=code,
        filament=sku.filament,
        line=plant.line,
        planned_start=at,
        planned_end=at,
        released_at=at,
        released_known_at=at,
    )
    ShelfStock.objects.get_or_create(sku=sku, defaults={"changed_at": at})
    shelf_at = datetime.combine(shelf_day, time(9), tzinfo=ZONE)
    output = RunOutput.objects.create(
        run=run, sku=sku, planned=quantity, awaited=quantity, shelf_at=shelf_at, shelf_day=shelf_day
    )
    note_run_plan(run, clock=Clock.at(at))
    note_output_plans([output], clock=Clock.at(at))
    return output


def put_on_shelf(
    sku: Sku, quantity: int, *, lot_code: str = "", at: str = "2027-03-01 06:00", place_kind: str = "shelf"
) -> Lot:
    """Open the books with spools of one SKU in a lot of their own, through the ledger."""
    return open_stock(sku.item, Decimal(quantity), lot_code=lot_code or f"OPEN-{sku.item.code}", at=at, to=place_kind)


def put_in_store(item: Item, quantity: str, *, lot_code: str, at: str = "2027-03-01 06:00") -> Lot:
    """Open the books with a material or part in the store."""
    return open_stock(item, Decimal(quantity), lot_code=lot_code, at=at, to="resin_store")


def open_stock(item: Item, quantity: Decimal, *, lot_code: str, at: str, to: str) -> Lot:
    """Post opening stock to a place, in a new lot."""
    lot = Lot.objects.create(code=lot_code, item=item, created_at=local(at))
    line = LineDraft(item.pk, lot.pk, quantity, from_place=place("opening"), to_place=place(to))
    post_movement(kind=Movement.Kind.OPENING, lines=[line], clock=clock(at))
    return lot


def _build_week() -> None:
    PlantParameters.objects.create(name="Tiny plant", time_zone="Europe/Berlin")
    WorkDay.objects.bulk_create(
        WorkDay(
            weekday=weekday,
            cut_off=time(13, 40),
            pick_up=time(16),
            oven_load_at=time(17),
            pack_from=time(6),
            shelf_ready=time(9),
            pack_spools=400,
        )
        for weekday in range(5)
    )
    Crew.objects.bulk_create(Crew(weekday=weekday, start=time(6), end=time(22), size=1) for weekday in range(5))


def _material(code: str, *, density: str, spool_dry: tuple[int, int, str]) -> Material:
    resin = Item.objects.create(code=f"RESIN-{code}", name=f"{code} resin", kind="resin", unit="kg")
    low_c, high_c, hours = spool_dry
    return Material.objects.create(
        code=code,
        name=code,
        density_g_cm3=density,
        resin_item=resin,
        resin_dry_min_c=55,
        resin_dry_max_c=65,
        resin_dry_hours=4,
        spool_dry_min_c=low_c,
        spool_dry_max_c=high_c,
        spool_dry_hours=hours,
    )


def _spool_size(code: str, *, net_g: int, tare_g: int) -> SpoolSize:
    part = Item.objects.create(code=f"SPOOL-{code}", name=f"empty spool {code}", kind="spool_part", unit="piece")
    box = Item.objects.create(code=f"BOX-{code}", name=f"box for {code}", kind="box", unit="piece")
    return SpoolSize.objects.create(
        code=code, net_g=net_g, tare_g=tare_g, spool_part=part, box_item=box, max_temp_c=70, oven_places=Decimal(1)
    )


def _build_line(*filaments: Filament) -> Line:
    line = Line.objects.create(code="L1", name="Line one", extruder_kg_h="12")
    LineSpeed.objects.bulk_create(LineSpeed(line=line, filament=filament, speed_m_min="55") for filament in filaments)
    Shift.objects.bulk_create(Shift(line=line, weekday=weekday, start=time(6), end=time(22)) for weekday in range(5))
    return line
