"""The forecast as a whole, with every figure of its page by hand."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client

from stockplan.planner.models import ForecastRun
from stockplan.planner.selectors.forecast_health import forecast_health
from tests.pages.shown_plant import ShownPlant

LogIn = Callable[[str], Client]


def test_forecast_page_compares_with_the_best_plain_method(shown: ShownPlant, logged_in: LogIn) -> None:
    # 1 - 0.40 / 0.50 = 0.2 of the plain method's loss.
    text = logged_in("planner").get("/admin/forecast/").text
    assert "0.400" in text
    assert "0.500" in text
    assert "20.0\N{NO-BREAK SPACE}%" in text


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
    assert "Furthest from it over all classes: 52.0\N{NO-BREAK SPACE}% at the quantile 50.0\N{NO-BREAK SPACE}%." in text


def test_forecast_page_marks_a_class_where_the_plain_method_is_better(shown: ShownPlant, logged_in: LogIn) -> None:
    run = ForecastRun.objects.get()
    run.benchmarks = [{**row, "loss": 0.60 if row["method"] == "chosen" else row["loss"]} for row in run.benchmarks]
    run.save()
    text = logged_in("planner").get("/admin/forecast/").text
    assert "-20.0\N{NO-BREAK SPACE}%" in text
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
