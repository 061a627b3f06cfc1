"""Measured runs: what is written, what goes to hold by itself. Limits 1.72 to 1.78 mm; spools of 1000 g on 200 g."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest

from inventory.errors import InvalidInputError, NotFoundError
from inventory.models import DiameterReport, Lot, Movement, Run, SpoolWeighing
from inventory.services.holds import release_lot
from inventory.services.packing import pack
from inventory.services.quality import Judged, post_weighings
from inventory.services.run_records import RunStateError
from tests.inventory.books.floor import KG, QUARTER, finish, finished, packed, released, started
from tests.inventory.books.measuring import AFTER, INSIDE, NOON, OUTSIDE, measure
from tests.inventory.books.reading import lying, shelf
from tests.inventory.builders import TinyPlant, clock, late, local, put_in_store

pytestmark = pytest.mark.django_db


def held() -> list[str]:
    return sorted(Lot.objects.filter(is_held=True).values_list("code", flat=True))


def lots_of_run(run: Run) -> list[str]:
    return sorted([f"{run.code}-{KG}", f"{run.code}-{QUARTER}"])


def test_readings_inside_hold_nothing(stores: TinyPlant) -> None:
    assert measure(finished().run, *INSIDE) == Judged(held_lots=())
    assert held() == []


def test_one_reading_outside_holds_every_lot_of_the_run(stores: TinyPlant) -> None:
    run = finished().run
    assert sorted(measure(run, *OUTSIDE).held_lots) == lots_of_run(run)
    assert held() == lots_of_run(run)
    assert (lying(stores.black_1kg, "wound"), lying(stores.black_1kg, "hold")) == (0, 38)


def test_hold_says_why(stores: TinyPlant) -> None:
    run = finished().run
    measure(run, *OUTSIDE)
    report = DiameterReport.objects.get()
    reasons = set(Movement.objects.filter(kind="hold").values_list("reason", flat=True))
    assert reasons == {f"diameter: 1 reading(s) of report {report.pk} outside 1.720 to 1.780 mm"}


def test_second_axis_outside_holds_the_run(stores: TinyPlant) -> None:
    run = finished().run
    measure(run, readings=[(Decimal("1.75"), Decimal("1.71"))])
    assert held() == lots_of_run(run)


def test_reading_at_the_limit_holds_nothing(stores: TinyPlant) -> None:
    measure(finished().run, "1.72", "1.78")
    assert held() == []


def test_run_that_was_outside_while_it_ran_is_held_at_its_finish(stores: TinyPlant) -> None:
    run = started()
    assert measure(run, *OUTSIDE, at=NOON) == Judged(held_lots=())
    finish(run, scrap={}, purge_kg="1")
    assert held() == lots_of_run(run)
    assert lying(stores.black_1kg, "hold") == 38


def test_run_that_was_inside_while_it_ran_is_not_held_at_its_finish(stores: TinyPlant) -> None:
    run = started()
    measure(run, *INSIDE, at=NOON)
    finish(run, scrap={}, purge_kg="1")
    assert held() == []


def test_readings_that_come_in_late_hold_what_lies_on_the_shelf_now(stores: TinyPlant) -> None:
    run = packed()
    measure(run, *OUTSIDE, at=late("2027-03-01 12:00", "2027-03-02 10:00"))
    assert shelf(stores.black_1kg) == (0, 0)
    assert {row.occurred_at for row in Movement.objects.filter(kind="hold")} == {local("2027-03-02 10:00")}


def test_order_that_was_promised_a_held_spool_loses_it(stores: TinyPlant, order: Callable[..., int]) -> None:
    run = packed()
    order("A", {stores.black_1kg: 5}, at="2027-03-02 09:00")
    assert shelf(stores.black_1kg) == (38, 5)
    measure(run, *OUTSIDE, at=clock("2027-03-02 10:00"))
    assert shelf(stores.black_1kg) == (0, 0)


def test_held_run_cannot_be_packed(stores: TinyPlant) -> None:
    run = finished().run
    measure(run, *OUTSIDE)
    with pytest.raises(Exception, match="dried and ready"):
        pack(spools=[(run.code, KG, 1)], clock=clock("2027-03-01 16:00"))


def test_lot_that_was_released_stays_released_by_readings_inside(stores: TinyPlant) -> None:
    run = finished().run
    measure(run, *OUTSIDE)
    for code in lots_of_run(run):
        release_lot(lot_code=code, clock=clock("2027-03-01 16:00"), reason="remeasured: gauge was dirty")
    measure(run, *INSIDE, at=clock("2027-03-01 17:00"))
    assert held() == []


def test_second_bad_report_holds_only_what_is_not_held(stores: TinyPlant) -> None:
    run = finished().run
    measure(run, *OUTSIDE)
    release_lot(lot_code=f"{run.code}-{KG}", clock=clock("2027-03-01 16:00"), reason="sorted")
    again = measure(run, *OUTSIDE, at=clock("2027-03-01 17:00"))
    assert again.held_lots == (f"{run.code}-{KG}",)


@pytest.mark.parametrize(
    ("readings", "fields", "error", "message"),
    [
        ([], {}, InvalidInputError, "0 readings: 1 to 20000"),
        ([("0", None)], {}, InvalidInputError, "Reading 1: x_mm 0 must be above 0"),
        ([("1.75", None), ("1.75", "10")], {}, InvalidInputError, "Reading 2: y_mm 10 must be"),
        ([("1.75001", None)], {}, InvalidInputError, "at most 4 decimals"),
        ([("NaN", None)], {}, InvalidInputError, "x_mm NaN"),
        ([("1.75", None)], {"document": "x" * 81}, InvalidInputError, "document has 81"),
        ([("1.75", None)], {"clock": clock("2027-03-01 07:59")}, InvalidInputError, "is before run"),
        ([("1.75", None)], {"run_code": "R9"}, NotFoundError, "Run 'R9'"),
    ],
)
def test_readings_are_refused_and_nothing_is_written(
    stores: TinyPlant,
    readings: list[tuple[str, str | None]],
    fields: dict[str, object],
    error: type[Exception],
    message: str,
) -> None:
    run = finished().run
    pairs = [(Decimal(x), None if y is None else Decimal(y)) for x, y in readings]
    with pytest.raises(error, match=message):
        measure(run, **{"readings": pairs, **fields})
    assert DiameterReport.objects.count() == 0


def test_run_that_has_not_started_is_not_measured(stores: TinyPlant) -> None:
    with pytest.raises(RunStateError, match="only a started or finished run can be measured"):
        measure(released(), *INSIDE)


def test_full_spools_pass_the_net_mass_check(stores: TinyPlant) -> None:
    run = finished().run
    check = post_weighings(lot_code=f"{run.code}-{KG}", gross_g=[Decimal("1203"), Decimal("1201.5")], clock=AFTER)
    assert (check.mean_net_g, check.passes, held()) == (Decimal("1002.25"), True, [])


def test_light_spools_put_their_lot_on_hold_and_no_other(stores: TinyPlant) -> None:
    run = finished().run
    post_weighings(lot_code=f"{run.code}-{KG}", gross_g=[Decimal("1203"), Decimal("1184.9")], clock=AFTER)
    assert held() == [f"{run.code}-{KG}"]
    [movement] = Movement.objects.filter(kind="hold")
    assert movement.reason == "net mass: mean 994.0 g of 2 spool(s), nominal 1000 g; 1 short by more than 15 g"


@pytest.mark.parametrize(
    ("gross", "message"),
    [
        ([], "At least one spool"),
        (["1200.05"], "tenths of a gram"),
        (["100001"], "at most 100000 g"),
        (["1203", "NaN"], "Spool 2: NaN g"),
    ],
)
def test_weighings_are_refused(stores: TinyPlant, gross: list[str], message: str) -> None:
    run = finished().run
    with pytest.raises(InvalidInputError, match=message):
        post_weighings(lot_code=f"{run.code}-{KG}", gross_g=[Decimal(text) for text in gross], clock=AFTER)
    assert SpoolWeighing.objects.count() == 0


def test_material_is_not_weighed_as_spools(plant: TinyPlant) -> None:
    put_in_store(plant.black.material.resin_item, "25", lot_code="R1")
    with pytest.raises(InvalidInputError, match="only spools are weighed"):
        post_weighings(lot_code="R1", gross_g=[Decimal(1200)], clock=AFTER)
