"""Purchases, shelf space and what the floor teaches, from the books."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import Decimal
from io import StringIO

import pytest
from django.contrib.auth.models import User
from django.core.management import CommandError, call_command

from inventory.models import Changeover, Filament, Item, Line, Sku, SpoolSize
from inventory.services.runs import finish_run, release_run, start_run
from stockplan.planner.core.plant import plant_of
from stockplan.planner.core.shelf_worth import SkuAdvice
from stockplan.planner.models import AcceptedFigures, PurchaseAdvice
from stockplan.planner.selectors.facts import making_facts
from stockplan.planner.selectors.finished_runs import filaments_made, finished_runs
from stockplan.planner.selectors.purchases import newest_advice
from stockplan.planner.services.floor_learning import LearningError, accept_learned, learned_figures
from stockplan.planner.services.plain_facts import facts_without_demand
from stockplan.planner.services.purchase_advice import advise_purchases
from stockplan.planner.services.shelf_advice import advise_shelf
from tests.inventory.builders import TinyPlant, build_sku, build_tiny_plant, clock, local, put_in_store
from tests.pages.shown_plant import add_filament
from tests.planner.conftest import order

AS_OF = local("2027-03-01 10:00")
BLACK = "PLA-BLACK-1000"


@pytest.fixture
def in_march(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("purchases", "shelf_worth", "learned_figures"):
        monkeypatch.setattr(f"stockplan.planner.management.commands.{name}.timezone.now", lambda: AS_OF)


def _sell(reference: str, sku: str, *, every: int, units: int = 2) -> None:
    """Orders over the six weeks before, every so many days, none at the weekend."""
    for n in range(0, 42, every):
        day = date(2027, 1, 18) + timedelta(days=n)
        if day.weekday() < 5:
            order(f"{reference}{n}", [(sku, units)], at=f"{day} 08:00")


@pytest.fixture
def scarce(db: None) -> TinyPlant:
    """Plenty of everything but resin, of which there are 5 kg."""
    tiny = build_tiny_plant()
    for item in Item.objects.exclude(kind="sku").order_by("code"):
        put_in_store(item, "5" if item == tiny.black.material.resin_item else "5000", lot_code=f"LOT-{item.code}")
    return tiny


def test_resin_that_the_orders_need_is_bought_in_packs_from_the_minimum_on(scarce: TinyPlant) -> None:
    resin = scarce.black.material.resin_item
    Item.objects.filter(pk=resin.pk).update(pack_size=25, supplier_minimum=60, lead_time_days=3)
    order("BIG", [(BLACK, 40)], at="2027-03-01 09:00", wanted="2027-03-12")
    (bought,) = [p for p in advise_purchases(as_of=AS_OF, now=AS_OF) if p.item == resin.code]
    # 40 kg wound, with scrap and start-up below 60 kg: the minimum of 60 kg is three packs of 25.
    assert (bought.quantity, bought.packs, bought.on_hand) == (75.0, 3, 5.0)
    assert bought.buy_by == max(bought.runs_out_on - timedelta(days=3), date(2027, 3, 1))


def test_advice_is_kept_as_it_was_given_with_its_forecast(scarce: TinyPlant) -> None:
    order("BIG", [(BLACK, 40)], at="2027-03-01 09:00", wanted="2027-03-12")
    given = advise_purchases(as_of=AS_OF, now=AS_OF)
    kept = newest_advice()
    assert kept is not None
    assert (kept.computed_at, set(kept.purchases), len(given) > 0) == (AS_OF, set(given), True)
    assert [day for day, _ in kept.days] == sorted({purchase.buy_by for purchase in given})
    assert PurchaseAdvice.objects.get().forecast_run.as_of == AS_OF


def test_desiccant_is_bought_for_every_spool_in_whole_pieces(plant: TinyPlant) -> None:
    bags = Item.objects.create(code="SILICA", name="desiccant bag", kind="desiccant", unit="piece", lead_time_days=1)
    SpoolSize.objects.filter(code=plant.black_1kg.spool_size.code).update(desiccant_item=bags)
    put_in_store(bags, "3", lot_code="LOT-SILICA")
    order("BIG", [(BLACK, 40)], at="2027-03-01 09:00", wanted="2027-03-12")
    (bought,) = advise_purchases(as_of=AS_OF, now=AS_OF)
    # One bag to each of the forty spools that are wanted, three are there; nothing else sells.
    assert (bought.item, bought.quantity, bought.unit) == ("SILICA", 37, "pieces")


def test_full_store_needs_nothing(plant: TinyPlant) -> None:
    order("SMALL", [(BLACK, 2)], at="2027-03-01 09:00", wanted="2027-03-12")
    assert advise_purchases(as_of=AS_OF, now=AS_OF) == ()


@pytest.mark.usefixtures("in_march")
def test_command_says_what_to_buy(scarce: TinyPlant) -> None:
    order("BIG", [(BLACK, 40)], at="2027-03-01 09:00", wanted="2027-03-12")
    out = StringIO()
    call_command("purchases", stdout=out)
    assert f"{scarce.black.material.resin_item.code} " in out.getvalue()
    assert "5.000 left would run out on 2027-03-" in out.getvalue()


def _advice() -> dict[str, SkuAdvice]:
    return {row.sku: row for row in advise_shelf(as_of=AS_OF, now=AS_OF)}


def test_frequent_cheap_sku_earns_its_shelf_and_rare_dear_one_does_not(plant: TinyPlant) -> None:
    _sell("A", BLACK, every=1)
    _sell("B", "PETG-NAT-1000", every=21, units=5)
    Sku.objects.filter(item__code="PETG-NAT-1000").update(value=900)
    found = _advice()
    assert found[BLACK].earns > 0 > found["PETG-NAT-1000"].earns
    assert found[BLACK].order_days_per_year > found[BLACK].break_even_order_days
    assert found["PETG-NAT-1000"].order_days_per_year < found["PETG-NAT-1000"].break_even_order_days
    assert "make to order" in found["PETG-NAT-1000"].sentence(currency="EUR")


def test_sku_made_to_order_is_judged_as_if_it_were_stocked(plant: TinyPlant) -> None:
    _sell("A", BLACK, every=1)
    stocked = _advice()[BLACK]
    Sku.objects.filter(item__code=BLACK).update(is_stocked=False)
    made = _advice()[BLACK]
    assert (stocked.is_stocked, made.is_stocked) == (True, False)
    assert made.mean_stock > 0


@pytest.mark.usefixtures("in_march", "plant")
def test_command_says_a_sentence_for_every_sku_on_sale() -> None:
    out = StringIO()
    call_command("shelf_worth", stdout=out)
    lines = out.getvalue().splitlines()
    assert [line.count(" EUR ") for line in lines] == [2] * Sku.objects.count()


def _run(day: int, *, minutes: int, before: str | None = None) -> None:
    """One finished run of ten good kilogram spools and one of scrap."""
    at = f"2027-02-{day:02d}"
    run = release_run(
        filament_code="PLA-BLACK-1.75",
        line_code="L1",
        spools={BLACK: 10},
        planned_start=local(f"{at} 08:00"),
        planned_end=local(f"{at} 10:00"),
        changeover_from_code=before,
        clock=clock(f"{at} 07:00"),
    )
    start_run(run_code=run.code, clock=clock(f"{at} 08:00"))
    finish_run(
        run_code=run.code,
        good={BLACK: 10},
        scrap={BLACK: 1},
        real_minutes=Decimal(minutes),
        purge_kg=Decimal(0),
        clock=clock(f"{at} 16:00"),
    )


def accept(line: str, *, as_of: datetime = AS_OF, by: User | None = None) -> AcceptedFigures:
    return accept_learned(line_code=line, as_of=as_of, now=AS_OF, accepted_by=by)


def test_slow_runs_are_learned_with_their_count_and_spread(plant: TinyPlant) -> None:
    for day in range(1, 6):
        _run(day, minutes=130)
    learned = learned_figures(as_of=AS_OF)["L1"]
    assert learned.winding_factor.runs == 5
    assert learned.winding_factor.learned > 1.0 > learned.winding_factor.spread > 0
    # One spool of eleven is scrap, as heavy as the good ones.
    entered, wound = learned.scrap_share.entered, 55 * 1.0
    assert entered < learned.scrap_share.learned < 1 / 11
    assert learned.scrap_share.learned == pytest.approx((5 + 500 * entered) / (wound + 500), rel=0.02)


def test_only_filaments_that_were_made_are_read_and_say_the_same_as_the_whole_plant(plant: TinyPlant) -> None:
    _run(1, minutes=130, before="PETG-NATURAL-1.75")
    _run(2, minutes=90)
    ruby = add_filament(plant, "RUBY", name="Ruby", colour_hex="#8E1B3A")
    build_sku("PLA-RUBY-1000", filament=ruby, size=SpoolSize.objects.get(code="S1000"), number=4, value="9.00")
    made = filaments_made(as_of=AS_OF)
    assert made == {"PLA-BLACK-1.75", "PETG-NATURAL-1.75"} < set(Filament.objects.values_list("code", flat=True))
    whole, narrow = facts_without_demand(as_of=AS_OF), making_facts(made, as_of=AS_OF)
    assert {f.code for f in narrow.filaments} == {sku.filament for sku in narrow.skus} == made
    assert finished_runs(plant_of(narrow), as_of=AS_OF) == finished_runs(plant_of(whole), as_of=AS_OF)


def test_run_that_was_not_known_yet_teaches_nothing(plant: TinyPlant) -> None:
    _run(1, minutes=130)
    assert learned_figures(as_of=local("2027-02-01 15:59")) == {}


def test_accepted_figures_are_the_plants_own_from_then_on(plant: TinyPlant) -> None:
    for day in range(1, 6):
        _run(day, minutes=400, before="PETG-NATURAL-1.75")
    before = Line.objects.get(code="L1").availability
    learned = learned_figures(as_of=AS_OF)["L1"]
    factor, (entered,) = learned.winding_factor.learned, learned.changeovers.values()
    written = accept("L1")
    line = Line.objects.get(code="L1")
    assert float(line.availability) == pytest.approx(float(before) / factor, abs=1e-4)
    assert line.scrap_share == written.scrap_share
    pair = Changeover.objects.get(line=line)
    assert written.changeovers == [
        [pair.from_filament.code, pair.to_filament.code, round(entered.entered), pair.minutes]
    ]


def test_accepted_runs_do_not_teach_a_second_time(plant: TinyPlant) -> None:
    for day in range(1, 6):
        _run(day, minutes=400)
    first = accept("L1", as_of=local("2027-02-06 10:00"))
    assert learned_figures(as_of=AS_OF) == {}
    with pytest.raises(LearningError, match="no finished run to learn from that was not accepted before"):
        accept("L1")
    _run(8, minutes=400)
    assert learned_figures(as_of=AS_OF)["L1"].winding_factor.runs == 1
    assert (first.runs, AcceptedFigures.objects.count()) == (5, 1)


def test_acceptance_keeps_who_did_it_and_what_was_entered_before(plant: TinyPlant) -> None:
    _run(1, minutes=400)
    before = Line.objects.get(code="L1")
    planner = User.objects.create_user("planner-person")
    accept("L1", by=planner)
    kept, line = AcceptedFigures.objects.get(), Line.objects.get(code="L1")
    assert (kept.line, kept.accepted_by, kept.accepted_at, kept.learned_to) == (line, planner, AS_OF, AS_OF)
    assert (kept.availability_before, kept.scrap_share_before) == (before.availability, before.scrap_share)
    assert (kept.availability, kept.scrap_share) == (line.availability, line.scrap_share)


def test_figures_of_an_instant_to_come_are_refused(plant: TinyPlant) -> None:
    _run(1, minutes=400)
    with pytest.raises(LearningError, match="an instant to come"):
        accept_learned(line_code="L1", as_of=AS_OF + timedelta(minutes=1), now=AS_OF, accepted_by=None)


def test_pair_seen_twice_keeps_the_rule(plant: TinyPlant) -> None:
    _run(1, minutes=400, before="PETG-NATURAL-1.75")
    _run(2, minutes=400, before="PETG-NATURAL-1.75")
    assert accept("L1").changeovers == []
    assert not Changeover.objects.exists()


def test_line_without_runs_cannot_be_accepted(plant: TinyPlant) -> None:
    with pytest.raises(LearningError, match="no finished run"):
        accept("L1")
    with pytest.raises(LearningError, match="no line L9 in use"):
        accept("L9")


@pytest.mark.usefixtures("in_march")
def test_command_shows_and_accepts(plant: TinyPlant) -> None:
    _run(1, minutes=130)
    out = StringIO()
    call_command("learned_figures", stdout=out)
    assert "winding time 1." in out.getvalue()
    assert "1 runs)" in out.getvalue()
    before = Line.objects.get(code="L1").availability
    accepted = StringIO()
    call_command("learned_figures", "--accept", "L1", stdout=accepted)
    line = Line.objects.get(code="L1")
    assert line.availability < before
    assert accepted.getvalue() == (
        f"Entered for line L1: availability {line.availability}, scrap share {line.scrap_share}, "
        "changeovers: none seen often enough.\n"
    )


@pytest.mark.usefixtures("in_march", "plant")
def test_command_refuses_to_accept_nothing() -> None:
    with pytest.raises(CommandError, match="no finished run"):
        call_command("learned_figures", "--accept", "L1", stdout=StringIO())
