"""The owner's one number, from the books to the levels of a forecast."""

from __future__ import annotations

from datetime import date, timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from inventory.models import PlantParameters, Sku
from stockplan.planner.services.forecasts import compute_forecast
from stockplan.planner.services.order_targets import OrderTargetError, advise_order_target, set_order_target
from tests.inventory.builders import TinyPlant, local
from tests.planner.conftest import order

AS_OF = local("2027-03-01 10:00")
PAIR = [("PLA-BLACK-1000", 1), ("PLA-BLACK-250", 1)]


@pytest.fixture
def pairs(plant: TinyPlant) -> TinyPlant:
    """Six weeks in which one or two pairs of black spools are ordered a day; the large one is dear."""
    Sku.objects.filter(pk=plant.black_1kg.pk).update(value=100)
    Sku.objects.filter(pk=plant.black_250g.pk).update(value=1)
    for n in range(42):
        day = date(2027, 1, 18) + timedelta(days=n)
        if day.weekday() < 5:
            order(f"A{n}", PAIR, at=f"{day} 08:00")
        if day.weekday() < 3:
            order(f"B{n}", PAIR, at=f"{day} 08:30")
    return plant


def _levels() -> dict[str, int]:
    stored = compute_forecast(as_of=AS_OF, now=AS_OF, days=10).run
    return dict(stored.targets.values_list("sku__item__code", "order_up_to"))


def test_set_share_gives_a_dear_sku_less_than_one_target_for_all_and_a_cheap_one_not(pairs: TinyPlant) -> None:
    PlantParameters.objects.update(target_share="0.9")
    before = compute_forecast(as_of=local("2027-03-01 09:59"), now=AS_OF, days=10).run
    one = dict(before.targets.values_list("sku__item__code", "order_up_to"))
    set_order_target(share=0.9)
    by_order = _levels()
    assert by_order["PLA-BLACK-250"] >= one["PLA-BLACK-250"]
    assert by_order["PLA-BLACK-1000"] < one["PLA-BLACK-1000"]


def test_levels_grow_with_the_share(pairs: TinyPlant) -> None:
    advice = [advise_order_target(share=share, as_of=AS_OF) for share in (0.8, 0.95)]
    assert advice[0].verified.target.stock_value < advice[1].verified.target.stock_value
    assert advice[0].levels["PLA-BLACK-1000"] < advice[1].levels["PLA-BLACK-1000"]


def test_order_with_a_line_made_to_order_is_no_basket(pairs: TinyPlant) -> None:
    before = advise_order_target(share=0.9, as_of=AS_OF).levels
    Sku.objects.filter(item__code="PETG-NAT-1000").update(is_stocked=False)
    for n in range(5):
        order(f"MTO{n}", [("PETG-NAT-1000", 1), ("PLA-BLACK-250", 200)], at=f"2027-02-{22 + n} 08:00")
    assert advise_order_target(share=0.9, as_of=AS_OF).levels == before


@pytest.mark.parametrize("share", [0.0, 1.0, 97.0])
def test_share_that_is_none_is_refused(pairs: TinyPlant, share: float) -> None:
    with pytest.raises(OrderTargetError, match="above 0 and below 1"):
        advise_order_target(share=share, as_of=AS_OF)


def test_share_out_of_reach_is_refused_with_what_is_reached(pairs: TinyPlant) -> None:
    with pytest.raises(OrderTargetError, match=r"out of reach: the highest levels give (9\d\.\d\d|100\.00)%"):
        advise_order_target(share=0.999999, as_of=AS_OF)


def test_plant_without_orders_is_refused(plant: TinyPlant) -> None:
    with pytest.raises(OrderTargetError, match="No recent order"):
        advise_order_target(share=0.9, as_of=AS_OF)


@pytest.fixture
def in_march(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("stockplan.planner.management.commands.order_target.timezone.now", lambda: AS_OF)


@pytest.mark.usefixtures("in_march", "pairs")
def test_command_advises_and_stores_only_when_told() -> None:
    out = StringIO()
    call_command("order_target", "0.9", stdout=out)
    assert "Simulated with 100,000 orders" in out.getvalue()
    assert out.getvalue().count(" EUR ") == 2
    assert PlantParameters.objects.get().order_target_share is None
    call_command("order_target", "0.9", "--set", stdout=StringIO())
    assert float(PlantParameters.objects.get().order_target_share or 0) == 0.9


@pytest.mark.usefixtures("in_march", "plant")
def test_command_stores_nothing_when_the_share_is_refused() -> None:
    with pytest.raises(CommandError, match="No recent order"):
        call_command("order_target", "0.9", "--set", stdout=StringIO())
    assert PlantParameters.objects.get().order_target_share is None
