"""The tiny plant with stock, a released run and one make list, in which rank and place on the line differ.

Rank 1 is natural PETG at place 2 of the line, rank 2 black PLA at place 1, rank 3 is blocked for want of concentrate,
and a fourth filament is not listed. Times count from the present, for the pages read the clock.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.utils import timezone

from forecasting.messages import message
from inventory.models import (
    Cart,
    Channel,
    Colour,
    CountSheet,
    Filament,
    Item,
    LineSpeed,
    Lot,
    Movement,
    Order,
    OrderLine,
    OrderLineChange,
    Place,
    Run,
    Sku,
    SpoolSize,
)
from inventory.rules.clock import Clock
from inventory.rules.order_draft import OrderDraft
from inventory.services.counting import open_count_sheet
from inventory.services.ledger import LineDraft, ensure_places, place, post_movement
from inventory.services.orders import place_order
from inventory.services.runs import release_run
from stockplan.planner.core.purchasing import Purchase
from stockplan.planner.core.replay.records import Count, LineUse, ReplayRow, ReplayTotals
from stockplan.planner.core.shelf_worth import SkuAdvice
from stockplan.planner.models import MakeList, PurchaseAdvice, ShelfAdvice, StoredReplay
from stockplan.planner.services.replays import store_replay
from tests.inventory.builders import TinyPlant, build_sku, build_tiny_plant, planner_names_no_day
from tests.pages.shown_list import build_list

# Every working page as this plant fills it; `ShownPlant.fill_in` writes its codes into the braces.
WORKING_PATHS = [
    "/admin/",
    "/admin/stock/",
    "/admin/orders/{order}/",
    "/admin/due/",
    "/admin/due/{order}/",
    "/admin/make-list/",
    "/admin/make-list/lines/",
    "/admin/make-list/lines/?line=L1",
    "/admin/make-list/left-out/",
    "/admin/make-list/changed/",
    "/admin/make-list/to-buy/",
    "/admin/make-list/week/",
    "/admin/filaments/PLA-BLACK-1.75/",
    "/admin/skus/PLA-BLACK-1000/",
    "/admin/purchases/",
    "/admin/replays/",
    "/admin/learned/",
    "/admin/forecast/",
    "/admin/forecast/announced/",
    "/admin/line/",
    "/admin/line/L1/",
    "/admin/ovens/",
    "/admin/carts/CART-1/",
    "/admin/store/",
    "/admin/store/count/",
    "/admin/counts/",
    "/admin/counts/{sheet}/",
    "/admin/trace/?lot=OPEN-PLA-BLACK-1000",
    "/admin/second-factor/",
    "/admin/owner/order-target/",
    "/admin/owner/shelf-worth/",
    "/admin/owner/",
    "/admin/owner/misses/",
    "/admin/owner/stops/",
    "/admin/owner/lines/?line=L1",
    "/admin/owner/shelf/",
    "/admin/owner/shelf/?show=slow",
    "/admin/run-cards/",
    "/admin/run-cards/{run}/",
    "/admin/run-cards/{run}/quality/",
]


@dataclass(frozen=True)
class ShownPlant:
    tiny: TinyPlant
    ruby: Filament
    ruby_1kg: Sku
    sand: Filament
    make_list: MakeList
    run: Run
    order_id: int
    sheet: CountSheet

    def fill_in(self, path: str) -> str:
        """Return an address with the codes of this plant in its braces."""
        return path.format(run=self.run.code, order=self.order_id, sheet=self.sheet.code)


def build_shown_plant() -> ShownPlant:
    """Write the plant, ten free spools of black, a released run of natural, the list, and a sheet to count natural."""
    now = timezone.now()
    ensure_places()
    tiny = build_tiny_plant()
    ruby = add_filament(tiny, "RUBY", name="Ruby", colour_hex="#8E1B3A")
    sand = add_filament(tiny, "SAND", name="Sand", colour_hex="#D9C9A3")
    size = SpoolSize.objects.get(code="S1000")
    ruby_1kg = build_sku("PLA-RUBY-1000", filament=ruby, size=size, number=4, value="9.00")
    build_sku("PLA-SAND-1000", filament=sand, size=size, number=5, value="9.00")
    put_on_shelf(tiny.black_1kg, spools=10, now=now)
    run = release_run(
        filament_code=tiny.natural.code,
        line_code=tiny.line.code,
        spools={tiny.natural_1kg.item.code: 6},
        planned_start=now + timedelta(hours=1),
        planned_end=now + timedelta(hours=3),
        drying_from=now,
        hopper_code=tiny.hopper.code,
        clock=Clock.at(now),
    )
    make_list = build_list(tiny, ruby=ruby, ruby_1kg=ruby_1kg, sand=sand, now=now)
    Cart.objects.create(code="CART-1")
    build_curve("make-list", shares=(0.8, 0.95), now=now)
    build_advice(make_list, now=now)
    build_shelf_advice(now=now)
    order_id = place_due_order([("PLA-BLACK-1000", 2), ("PLA-RUBY-1000", 1)], reference="DUE-1", now=now)
    return ShownPlant(
        tiny=tiny,
        ruby=ruby,
        ruby_1kg=ruby_1kg,
        sand=sand,
        make_list=make_list,
        run=run,
        order_id=order_id,
        sheet=open_count_sheet(sku_codes=["PETG-NAT-1000"], clock=Clock.at(now)),
    )


def build_advice(make_list: MakeList, *, now: datetime) -> PurchaseAdvice:
    """Two purchases: boxes in three days, and resin that already comes too late."""
    today = timezone.localdate(now)

    def purchase(item: str, *, buy: float, unit: str, in_days: int, late_days: int) -> Purchase:
        day = today + timedelta(days=in_days)
        terms = {"item": item, "name": f"Item {item}", "unit": unit, "quantity": buy, "packs": 3, "on_hand": 12.5}
        return Purchase(**terms, expected_need=900.0, runs_out_on=day, buy_by=day, late_days=late_days)

    boxes = purchase("BOX-1", buy=300.0, unit="pieces", in_days=3, late_days=0)
    rows = [asdict(row) for row in (purchase("RESIN-PLA", buy=1500.0, unit="kg", in_days=0, late_days=2), boxes)]
    return PurchaseAdvice.objects.create(forecast_run=make_list.forecast_run, computed_at=now, rows=rows)


def build_shelf_advice(*, now: datetime) -> ShelfAdvice:
    """Ruby costs more than it saves, black earns its shelf, and no number of days would pay for natural."""

    def worth(sku: str, *, earns: float, even: float | None) -> dict[str, object]:
        saved = {"runs_saved": 4.0, "runs_saved_cost": 200.0 + earns, "earns": earns}
        days = {"order_days_per_year": 21.0, "break_even_order_days": even}
        return asdict(SkuAdvice(sku=sku, is_stocked=True, mean_stock=3.5, holding_cost=200.0, **saved, **days))

    rows = [
        worth("PLA-RUBY-1000", earns=-150.0, even=84.0),
        worth("PETG-NAT-1000", earns=-10.0, even=None),
        worth("PLA-BLACK-1000", earns=450.0, even=6.0),
    ]
    return ShelfAdvice.objects.create(computed_at=now, rows=rows)


def build_curve(policy: str, *, shares: Sequence[float], now: datetime) -> StoredReplay:
    """An exchange curve over one week: of 20 orders a share is kept, with 100 of stock value more at each point."""
    monday, friday = date(2027, 2, 1), date(2027, 2, 5)
    points = [
        ReplayRow(
            f"x {at}",
            ReplayTotals(
                first_day=monday,
                last_day=friday,
                orders=Count(20, round(20 * share)),
                lines=Count(30, round(30 * share)),
                units=Count(40, round(40 * share)),
                mean_stock_value=100.0 * at,
                mean_stock_units=10.0 * at,
                late_orders=1,
                use=LineUse(available_min=2400, winding_min=1500, changeover_min=300, purge_kg=12.5, runs=9),
            ),
        )
        for at, share in enumerate(shares, start=1)
    ]
    return store_replay(
        policy=policy, is_curve=True, conditions=[message("Materials are there.")], rows=points, now=now
    )


def place_due_order(lines: list[tuple[str, int]], *, reference: str, now: datetime) -> int:
    """An order of four days ago, so that it is due whatever the hour. What it takes of the shelf is taken now."""
    draft = OrderDraft(channel_code="WEB", reference=reference, lines=lines)
    with planner_names_no_day():
        return place_order(body=draft, clock=Clock(occurred_at=now - timedelta(days=4), known_at=now)).order_id


def add_filament(tiny: TinyPlant, code: str, *, name: str, colour_hex: str) -> Filament:
    """One more colour on the black filament's material and diameter, which line L1 can make."""
    concentrate = Item.objects.create(code=f"MB-{code}", name=f"{name} concentrate", kind="concentrate", unit="kg")
    colour = Colour.objects.create(
        code=code, name=name, hex=colour_hex, lab_l="40", concentrate_item=concentrate, let_down_share="0.02"
    )
    filament = Filament.objects.create(
        code=f"PLA-{code}-1.75", material=tiny.black.material, colour=colour, diameter=tiny.black.diameter
    )
    LineSpeed.objects.create(line=tiny.line, filament=filament, speed_m_min="55")
    return filament


def put_on_shelf(sku: Sku, *, spools: int, now: datetime) -> None:
    open_at(Place.Kind.SHELF, sku, lot_code=f"OPEN-{sku.item.code}", spools=spools, now=now)


def open_at(kind: Place.Kind, sku: Sku, *, lot_code: str, spools: int, now: datetime) -> None:
    lot = Lot.objects.create(code=lot_code, item=sku.item, created_at=now)
    line = LineDraft(
        item_id=sku.pk,
        lot_id=lot.pk,
        quantity=Decimal(spools),
        from_place=place(Place.Kind.OPENING),
        to_place=place(kind),
    )
    post_movement(kind=Movement.Kind.OPENING, lines=[line], clock=Clock.at(now))


def add_past_order(sku: Sku, *, spools: int, days_ago: int) -> None:
    """An order of the past that was due and shipped on one day."""
    at = timezone.now() - timedelta(days=days_ago)
    order = Order.objects.create(
        channel=Channel.objects.get(),
        reference=f"{sku.pk}-{days_ago}",
        received_at=at,
        known_at=at,
        due_day=at.date(),
        state="shipped",
        body_digest="-",
        is_history=True,
        closed_at=at,
    )
    line = OrderLine.objects.create(order=order, line_no=1, sku=sku, quantity=spools, shipped=spools)
    OrderLineChange.objects.create(order_line=line, delta=spools, reason="placed", occurred_at=at, known_at=at)
