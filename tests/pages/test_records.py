"""Lists of records in the admin: in groups, with a word about each, their times as the plant's clock shows them."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from django.contrib import admin
from django.db.models import Model
from django.test import Client

from inventory.models import Run
from stockplan.planner.models import MakeList
from stockplan.records_site import GROUPS
from tests.pages.shown_plant import ShownPlant

LogIn = Callable[[str], Client]
OURS = [model for model in admin.site._registry if model._meta.app_label in ("inventory", "planner")]


@pytest.mark.parametrize("model", OURS, ids=lambda model: model._meta.model_name)
def test_list_of_records_has_a_group_and_a_purpose(model: type[Model]) -> None:
    page = admin.site._registry[model]
    assert page.group in GROUPS  # type: ignore[attr-defined]
    assert page.purpose.endswith(".")  # type: ignore[attr-defined]


def test_list_of_records_says_what_it_is_for(shown: ShownPlant, logged_in: LogIn) -> None:
    assert (
        "Material, colour and diameter: what one run makes."
        in logged_in("owner").get("/admin/inventory/filament/").text
    )


def test_entry_page_shows_records_by_group(shown: ShownPlant, logged_in: LogIn) -> None:
    groups = logged_in("owner").get("/admin/").context["app_list"]
    assert tuple(group["name"] for group in groups) == GROUPS


def test_entry_page_calls_records_by_their_names(shown: ShownPlant, logged_in: LogIn) -> None:
    groups = logged_in("owner").get("/admin/").context["app_list"]
    names = {str(entry["name"]) for group in groups for entry in group["models"]}
    assert {"SKUs", "SKU forecasts", "Filaments not listed", "Shelf stock", "Raw materials and parts"} <= names


@pytest.mark.parametrize(
    ("instant", "said"),
    [
        # IANA: Berlin is at UTC+1 in winter, at UTC+2 in summer.
        (datetime(2027, 3, 1, 12, 45, tzinfo=UTC), "Mon 1 Mar 2027 13:45"),
        (datetime(2027, 7, 1, 22, 30, tzinfo=UTC), "Fri 2 Jul 2027 00:30"),
    ],
    ids=["winter", "past midnight in summer"],
)
def test_list_shows_times_in_the_plants_zone(shown: ShownPlant, logged_in: LogIn, instant: datetime, said: str) -> None:
    Run.objects.update(planned_start=instant, planned_end=instant.replace(year=2028))
    assert said in logged_in("owner").get("/admin/inventory/run/").text


def test_lists_open_before_a_plant_is_loaded(db: None, logged_in: LogIn) -> None:
    assert logged_in("owner").get("/admin/inventory/run/").status_code == 200


def test_filter_of_a_list_says_what_it_is_set_to(shown: ShownPlant, logged_in: LogIn) -> None:
    text = logged_in("owner").get("/admin/inventory/lot/", {"is_held__exact": "1"}).text
    assert "On hold: <b>Yes</b>" in text


def test_list_rounds_a_figure_instead_of_cutting_it_off(shown: ShownPlant, logged_in: LogIn) -> None:
    MakeList.objects.update(misses_without=12.46, misses_with=3.54)
    text = logged_in("owner").get("/admin/planner/makelist/").text
    assert ">12.5<" in text
    assert ">3.5<" in text
