"""Measured runs: what is written, what goes to hold by itself. Limits 1.72 to 1.78 mm; spools of 1000 g on 200 g."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import pytest
import time_machine
from django.core.management import CommandError, call_command

from inventory.errors import InvalidInputError, NotFoundError
from inventory.models import DiameterReading, DiameterReport, Lot, Movement, Run, SpoolWeighing
from inventory.rules.clock import Clock
from inventory.selectors.quality import run_quality
from inventory.selectors.run_rows import RunNotFoundError
from inventory.services.holds import release_lot
from inventory.services.packing import pack
from inventory.services.quality import Judged, post_diameters, post_weighings
from inventory.services.run_records import RunStateError
from inventory.services.runs import finish_run
from tests.constraints import copy_of, refused
from tests.inventory.books.floor import KG, QUARTER, finished, packed, released, started
from tests.inventory.books.reading import lying, shelf
from tests.inventory.builders import TinyPlant, clock, late, local, put_in_store

pytestmark = [pytest.mark.django_db, pytest.mark.database]
NOON, AFTER = clock("2027-03-01 12:00"), clock("2027-03-01 15:00")
INSIDE, OUTSIDE = ("1.75", "1.74"), ("1.75", "1.79")


def measure(run: Run, *diameters: str, at: Clock = AFTER, **more: object) -> Judged:
    readings = [(Decimal(text), None) for text in diameters]
    body = {"run_code": run.code, "readings": readings, "source": DiameterReport.Source.HAND, "clock": at}
    return post_diameters(**{**body, **more})


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
    _finish(run)
    assert held() == lots_of_run(run)
    assert lying(stores.black_1kg, "hold") == 38


def test_run_that_was_inside_while_it_ran_is_not_held_at_its_finish(stores: TinyPlant) -> None:
    run = started()
    measure(run, *INSIDE, at=NOON)
    _finish(run)
    assert held() == []


def _finish(run: Run) -> None:
    finish_run(
        run_code=run.code,
        good={KG: 38, QUARTER: 20},
        scrap={},
        real_minutes=Decimal(360),
        purge_kg=Decimal(1),
        clock=clock("2027-03-01 14:00"),
    )


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


def test_quality_of_a_run_adds_up_all_reports_in_the_order_of_measuring(stores: TinyPlant) -> None:
    run = finished().run
    # Posted in the wrong order: the sheet of noon comes in after that of 15:00.
    measure(run, "1.76", "1.77", at=AFTER)
    measure(run, "1.74", "1.75", at=late("2027-03-01 12:00", "2027-03-01 16:00"))
    post_weighings(lot_code=f"{run.code}-{KG}", gross_g=[Decimal("1203")], clock=AFTER)
    quality = run_quality(run.code, subgroup_size=2)
    assert quality.diameter is not None
    assert quality.diameter.chart is not None
    assert [round(point.mean_mm, 4) for point in quality.diameter.chart.points] == [1.745, 1.765]
    assert (quality.lower_mm, quality.upper_mm) == (Decimal("1.720"), Decimal("1.780"))
    assert [(lot.sku_code, lot.net_mass is not None) for lot in quality.lots] == [(KG, True), (QUARTER, False)]


def test_quality_as_of_an_instant_knows_what_was_known_then(stores: TinyPlant) -> None:
    run = finished().run
    measure(run, "1.74", at=AFTER)
    measure(run, "1.76", at=late("2027-03-01 12:00", "2027-03-01 16:00"))
    before, after = (run_quality(run.code, as_of=local(f"2027-03-01 {hour}")) for hour in ("15:30", "16:00"))
    assert before.diameter is not None
    assert after.diameter is not None
    assert (before.diameter.readings, after.diameter.readings) == (1, 2)
    running = run_quality(run.code, as_of=local("2027-03-01 13:00"))
    assert (running.diameter, running.lots) == (None, ())


def test_quality_of_a_run_that_nobody_knows_is_refused(plant: TinyPlant) -> None:
    with pytest.raises(RunNotFoundError):
        run_quality("R9")


def test_quality_costs_the_same_queries_for_one_reading_and_twenty(
    stores: TinyPlant, queries_of: Callable[..., int]
) -> None:
    run = finished().run
    measure(run, "1.75")
    one = queries_of(run_quality, run.code)
    measure(run, *["1.75"] * 20)
    assert queries_of(run_quality, run.code) == one


@time_machine.travel(local("2027-03-01 16:00"), tick=False)
def test_file_of_a_gauge_is_read(stores: TinyPlant, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run = finished().run
    file = tmp_path / "gauge.csv"
    file.write_text("x_mm,y_mm\n1.751,1.749\n1.79,\n", encoding="utf-8")
    call_command("import_diameters", run.code, str(file), "--occurred-at", "2027-03-01T15:00:00+01:00")
    rows = list(DiameterReading.objects.values_list("number", "x_mm", "y_mm"))
    assert rows == [(1, Decimal("1.751"), Decimal("1.749")), (2, Decimal("1.79"), None)]
    assert DiameterReport.objects.get().document == "gauge.csv"
    assert f"on hold: {run.code}-{KG}, {run.code}-{QUARTER}." in capsys.readouterr().out


@time_machine.travel(local("2027-03-01 16:00"), tick=False)
@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("x_mm\n1,75\n", "line 2: has 2 cells"),
        ("x_mm\nwide\n", "line 2, column x_mm: 'wide' is not a number"),
        ("y_mm\n1.75\n", "line 1, column x_mm: the column is missing"),
        ("x_mm\n", "0 readings"),
    ],
)
def test_bad_file_of_a_gauge_is_refused_with_line_and_column(
    stores: TinyPlant, tmp_path: Path, text: str, message: str
) -> None:
    run = finished().run
    file = tmp_path / "gauge.csv"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(CommandError, match=message):
        call_command("import_diameters", run.code, str(file))
    assert DiameterReport.objects.count() == 0


@time_machine.travel(local("2027-03-01 16:00"), tick=False)
def test_file_of_a_gauge_from_the_future_is_refused(stores: TinyPlant, tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="is in the future"):
        call_command("import_diameters", "R1", str(tmp_path), "--occurred-at", "2027-03-01T16:01:00+01:00")


@pytest.mark.clean_error_of("diameterreport_limits_ordered")
def test_limits_of_a_report_are_those_of_the_diameter(stores: TinyPlant) -> None:
    # diameter_tolerance_below_nominal keeps the tolerance above 0: no service can turn the limits round.
    measure(finished().run, *INSIDE)
    report = DiameterReport.objects.get()
    assert (report.lower_mm, report.upper_mm) == (Decimal("1.72"), Decimal("1.78"))


@pytest.mark.refused_by_database("diameterreport_limits_ordered")
def test_limits_the_wrong_way_round_are_refused_by_the_database(stores: TinyPlant) -> None:
    measure(finished().run, *INSIDE)
    with refused("diameterreport_limits_ordered"):
        DiameterReport.objects.update(lower_mm="1.78", upper_mm="1.72")


@pytest.mark.clean_error_of("diameterreading_positive")
def test_diameter_of_nothing_is_refused_by_the_service(stores: TinyPlant) -> None:
    with pytest.raises(InvalidInputError, match="above 0"):
        measure(finished().run, "0")


@pytest.mark.refused_by_database("diameterreading_positive")
@pytest.mark.parametrize("fields", [{"x_mm": 0}, {"y_mm": 0}])
def test_diameter_of_nothing_is_refused_by_the_database(stores: TinyPlant, fields: dict[str, int]) -> None:
    measure(finished().run, *INSIDE)
    with refused("diameterreading_positive"):
        DiameterReading.objects.update(**fields)


@pytest.mark.clean_error_of("diameterreading_one_per_number")
def test_readings_of_a_report_are_numbered_from_one(stores: TinyPlant) -> None:
    measure(finished().run, *INSIDE)
    assert list(DiameterReading.objects.values_list("number", flat=True)) == [1, 2]


@pytest.mark.refused_by_database("diameterreading_one_per_number")
def test_second_reading_of_a_number_is_refused_by_the_database(stores: TinyPlant) -> None:
    measure(finished().run, "1.75")
    with refused("diameterreading_one_per_number"):
        copy_of(DiameterReading.objects.get())


@pytest.mark.clean_error_of("spoolweighing_above_tare")
def test_spool_that_weighs_no_more_than_an_empty_one_is_refused_by_the_service(stores: TinyPlant) -> None:
    run = finished().run
    with pytest.raises(InvalidInputError, match="above the empty spool's 200 g"):
        post_weighings(lot_code=f"{run.code}-{KG}", gross_g=[Decimal(200)], clock=AFTER)


@pytest.mark.refused_by_database("spoolweighing_above_tare")
def test_spool_that_weighs_no_more_than_an_empty_one_is_refused_by_the_database(stores: TinyPlant) -> None:
    run = finished().run
    post_weighings(lot_code=f"{run.code}-{KG}", gross_g=[Decimal(1200)], clock=AFTER)
    with refused("spoolweighing_above_tare"):
        SpoolWeighing.objects.update(gross_g=200)
