"""The forecast as a whole, with every figure of its page by hand."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client

from stockplan.planner.models import ForecastRun
from stockplan.planner.selectors.forecast_health import forecast_health
from tests.pages.shown_list import TRACK
from tests.pages.shown_plant import ShownPlant

LogIn = Callable[[str], Client]


def test_forecast_page_compares_with_the_best_plain_method(shown: ShownPlant, logged_in: LogIn) -> None:
    # 1 - 0.40 / 0.50 = 0.2 of the plain method's loss.
    text = logged_in("planner").get("/admin/forecast/").text
    assert "0.400" in text
    assert "0.500" in text
    assert "20.0%" in text


def test_forecast_health_takes_the_best_of_several_plain_methods(shown: ShownPlant) -> None:
    run = ForecastRun.objects.get()
    [plain] = [row for row in run.benchmarks if row["is_benchmark"] and row["demand_class"] == "all"]
    run.benchmarks = [*run.benchmarks, {**plain, "method": "empirical", "loss": 0.44}]
    run.save()
    health = forecast_health()
    assert health is not None
    assert health.overall is not None
    assert (health.overall.plain_method, health.overall.plain_loss) == ("empirical", 0.44)


def test_forecast_page_names_the_quantile_furthest_from_honest(shown: ShownPlant, logged_in: LogIn) -> None:
    # 52 % at 50 % is two points off, 96 % at 95 % one.
    text = logged_in("planner").get("/admin/forecast/").text
    assert "Furthest from it over all classes: 52.0% at the quantile 50.0%." in text


def test_forecast_page_marks_a_class_where_the_plain_method_is_better(shown: ShownPlant, logged_in: LogIn) -> None:
    run = ForecastRun.objects.get()
    run.benchmarks = [{**row, "loss": 0.60 if row["method"] == "chosen" else row["loss"]} for row in run.benchmarks]
    run.save()
    text = logged_in("planner").get("/admin/forecast/").text
    assert "-20.0%" in text
    assert "plain is better" in text


@pytest.mark.parametrize("loss", [None, 0.0], ids=["no window", "nothing to lose"])
def test_forecast_page_says_so_when_nothing_could_be_scored(
    shown: ShownPlant, logged_in: LogIn, loss: float | None
) -> None:
    run = ForecastRun.objects.get()
    run.benchmarks = [{**row, "loss": loss} for row in run.benchmarks]
    run.save()
    assert "too little history" in logged_in("planner").get("/admin/forecast/").text


def test_forecast_page_names_what_has_left_its_forecast_classes_first(shown: ShownPlant, logged_in: LogIn) -> None:
    run = ForecastRun.objects.get()
    sku = run.skus.select_related("sku__item").first().sku
    run.alarms = [
        {"scope": "sku", "name": sku.pk, "kind": "sells more than forecast", "since": "2026-10-05", "windows": 3},
        {"scope": "class", "name": "lumpy", "kind": "spread too narrow", "since": "2026-11-02", "windows": 4},
    ]
    run.save()
    text = logged_in("planner").get("/admin/forecast/").text
    assert text.index("All lumpy SKUs") < text.index(f'<a href="/admin/skus/{sku.item.code}/">')
    assert "Mon 5 Oct" in text


def test_forecast_page_says_when_nothing_has_left_its_forecast(shown: ShownPlant, logged_in: LogIn) -> None:
    assert "no SKU and no class departs" in logged_in("planner").get("/admin/forecast/").text


def test_forecast_page_names_the_skus_with_most_loss_first(shown: ShownPlant, logged_in: LogIn) -> None:
    run = ForecastRun.objects.get()
    run.skus.filter(sku=shown.tiny.natural_1kg).update(track=TRACK | {"loss": 1.0})
    text = logged_in("planner").get("/admin/forecast/").text
    first, second = (text.index(f'href="/admin/skus/{code}/"') for code in ("PLA-BLACK-1000", "PETG-NAT-1000"))
    assert first < second
    # 3 of 4 spools of loss; 1 - 3 / 4 less than the plain method; 4 of 8 outcomes in the highest tenth.
    row = text[first:second]
    assert [f"{share}%" in row for share in ("75.0", "25.0", "50.0")] == [True] * 3


def test_forecast_page_leaves_out_skus_that_were_never_scored(shown: ShownPlant, logged_in: LogIn) -> None:
    ForecastRun.objects.get().skus.update(track={})
    assert "Where most is lost" not in logged_in("planner").get("/admin/forecast/").text


def test_sku_page_shows_where_its_outcomes_fell(shown: ShownPlant, logged_in: LogIn) -> None:
    text = logged_in("planner").get("/admin/skus/PLA-BLACK-1000/").text
    assert "Where the outcomes of 8 past risk periods fell" in text
    assert "in the highest 50.0%." in text
    # By hand: 1 of 8 outcomes in the sixth tenth.
    assert '<th scope="row">50–60</th><td class="num">12.5%</td>' in text


def test_sku_page_shows_no_outcomes_where_none_was_scored(shown: ShownPlant, logged_in: LogIn) -> None:
    assert "past risk periods fell" not in logged_in("planner").get("/admin/skus/PETG-NAT-1000/").text
