"""Each constraint of readings and weighings twice: kept by the service, refused by the database past it."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from inventory.errors import InvalidInputError
from inventory.models import DiameterReading, DiameterReport, SpoolWeighing
from inventory.services.quality import ReadingsKnownError, post_weighings
from tests.constraints import copy_of, refused
from tests.inventory.books.floor import KG, finished, natural_started
from tests.inventory.books.measuring import AFTER, INSIDE, measure
from tests.inventory.builders import TinyPlant

pytestmark = pytest.mark.django_db


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


@pytest.mark.clean_error_of("diameterreport_gauge_readings_once_per_run")
def test_same_readings_of_a_gauge_are_refused_by_the_service_whatever_their_name_and_digits(stores: TinyPlant) -> None:
    run = finished().run
    measure(run, *["1.75", "1.74"] * 5, source=DiameterReport.Source.GAUGE, document="gauge.csv")
    with pytest.raises(
        ReadingsKnownError, match=r"in the books already: report \d+ from gauge\.csv, posted 2027-03-01T"
    ):
        measure(run, *["1.7500", "1.740"] * 5, source=DiameterReport.Source.GAUGE, document="gauge (1).csv")
    assert DiameterReading.objects.count() == 10


def test_gauge_that_reports_few_readings_at_a_time_may_read_the_same_again(stores: TinyPlant) -> None:
    run = finished().run
    for _ in range(2):
        measure(run, "1.75", source=DiameterReport.Source.GAUGE)
    assert DiameterReading.objects.count() == 2


@pytest.mark.refused_by_database("diameterreport_gauge_readings_once_per_run")
def test_same_readings_of_a_gauge_are_refused_by_the_database(stores: TinyPlant) -> None:
    measure(finished().run, *INSIDE * 5, source=DiameterReport.Source.GAUGE)
    with refused("diameterreport_gauge_readings_once_per_run"):
        copy_of(DiameterReport.objects.get())


@pytest.mark.parametrize(
    "change", [{"source": DiameterReport.Source.HAND}, {"readings": ("1.74", "1.75") * 5}, {"run": 1}]
)
def test_readings_by_hand_in_another_order_or_of_another_run_are_new(stores: TinyPlant, change: dict[str, Any]) -> None:
    runs = [finished().run, natural_started()]
    said = {"source": DiameterReport.Source.GAUGE, "readings": INSIDE * 5, "run": 0, **change}
    measure(runs[0], *INSIDE * 5, source=said["source"])
    measure(runs[said["run"]], *said["readings"], source=said["source"])
    assert DiameterReport.objects.count() == 2


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
