"""Blind cycle counts over the API, on the tiny plant: twenty black spools on the shelf."""

from __future__ import annotations

import pytest

from inventory.models import Sku
from tests.api.calls import get, order, post, put_on_shelf

BLACK, QUARTER = "PLA-BLACK-1000", "PLA-BLACK-250"
AT = "2027-03-01T{}:00:00+01:00"


@pytest.fixture
def sheet(plant, replay):
    put_on_shelf(replay, BLACK, 20)
    Sku.objects.filter(item__code=BLACK).update(shelf_place="A-01")
    return post(replay, "/count-sheets/", places=["A-01"], occurred_at=AT.format("09"))["sheet"]


def count(client, sheet, counted, status=201, hour="10", **change):
    body = {"sku": BLACK, "counted": counted, "occurred_at": AT.format(hour)}
    return post(client, f"/count-sheets/{sheet}/counts/", status, **(body | change))


def test_sheet_and_first_count_do_not_tell_the_books(replay, sheet):
    assert count(replay, sheet, 18) == {"sku": BLACK, "counts": 1, "state": "again"}
    answer = get(replay, f"/count-sheets/{sheet}/")
    assert answer["waiting"] == 1
    [line] = answer["lines"]
    assert (line["place"], line["state"], line["counted"], line["book"]) == ("A-01", "again", None, None)


def test_settled_line_tells_both_and_names_its_movement(replay, sheet):
    count(replay, sheet, 18)
    assert count(replay, sheet, 18, hour="11", note="two torn")["state"] == "settled"
    [line] = get(replay, f"/count-sheets/{sheet}/")["lines"]
    assert (line["counted"], line["book"]) == (18, 20)
    assert isinstance(line["movement"], int)
    assert get(replay, "/stock/", sku=BLACK)["results"][0]["on_shelf"] == 18


def test_tolerance_of_the_sheet_is_kept(replay, sheet):
    post(replay, f"/count-sheets/{sheet}/close/", 200, occurred_at=AT.format("11"))
    wide = post(replay, "/count-sheets/", skus=[BLACK], tolerance_share=0.1, occurred_at=AT.format("09"))
    assert wide["tolerance_share"] == 0.1
    assert count(replay, wide["sheet"], 18)["state"] == "settled"


def test_closed_sheet_shows_what_was_dropped(replay, sheet):
    [line] = post(replay, f"/count-sheets/{sheet}/close/", 200, occurred_at=AT.format("11"))["lines"]
    assert line["state"] == "dropped"


def test_sheets_are_listed_in_pages(replay, sheet):
    post(replay, "/count-sheets/", skus=[QUARTER], occurred_at=AT.format("09"))
    first = get(replay, "/count-sheets/", limit=1)
    assert [row["sheet"] for row in first["results"]] == [sheet]
    cursor = first["next"].split("cursor=")[1].split("&")[0]
    assert [row["lines"][0]["sku"] for row in get(replay, "/count-sheets/", cursor=cursor)["results"]] == [QUARTER]


def test_accuracy_is_told_by_place_and_class_with_denominators(replay, sheet):
    count(replay, sheet, 20)
    answer = get(replay, "/counts/accuracy/", first="2027-03-01", last="2027-03-01")
    [place] = answer["by_place"]
    assert (place["group"], place["counted_lines"], place["within_lines"], place["accuracy_share"]) == ("A-01", 1, 1, 1)
    assert [row["group"] for row in answer["by_class"]] == ["C"]
    assert get(replay, "/counts/accuracy/", first="2027-03-02", last="2027-03-02")["by_place"] == []


def test_accuracy_is_read_as_it_was_known_then(replay, sheet):
    count(replay, sheet, 20)
    day = {"first": "2027-03-01", "last": "2027-03-01"}
    seen = [get(replay, "/counts/accuracy/", **day, as_of=AT.format(hour))["by_place"] for hour in ("09", "10")]
    assert [[row["counted_lines"] for row in rows] for rows in seen] == [[], [1]]


def test_what_to_count_next_is_named_with_its_reason(replay, plant):
    put_on_shelf(replay, BLACK, 20)
    number = order(replay, "A-1")["id"]
    # What was found in a count has not moved since.
    assert get(replay, "/counts/next/", as_of=AT.format("12"))["results"] == []
    post(replay, "/shipments/", order=number, occurred_at=AT.format("12"))
    [row] = get(replay, "/counts/next/", as_of=AT.format("12"))["results"]
    assert (row["sku"], row["movements"], row["value_class"], row["last_counted_at"]) == (BLACK, 1, "A", None)
    assert row["risk"] == pytest.approx(0.01 / 91)
    assert row["reason"].startswith("1 movement and never counted")


@pytest.mark.parametrize(
    ("body", "status", "pointer"),
    [
        ({}, 422, "#/skus"),
        ({"skus": ["PINK"]}, 422, "#/skus"),
        ({"places": ["Z-99"]}, 422, "#/places"),
        ({"skus": [QUARTER], "tolerance_share": 1}, 400, "#/tolerance_share"),
    ],
)
def test_bad_sheet_is_told_where(replay, plant, body, status, pointer):
    assert [error["pointer"] for error in post(replay, "/count-sheets/", status, **body)["errors"]] == [pointer]


def test_bad_count_is_told_where(replay, sheet):
    assert count(replay, sheet, 20, 422, sku=QUARTER)["errors"][0]["pointer"] == "#/sku"
    assert count(replay, sheet, -1, 400)["errors"][0]["pointer"] == "#/counted"
    assert count(replay, "C9", 20, 404)["code"] == "not_found"
    get(replay, "/count-sheets/C9/", 404)
    post(replay, "/count-sheets/C9/close/", 404)


def test_sku_waits_on_one_sheet_at_a_time(replay, sheet):
    assert post(replay, "/count-sheets/", 409, skus=[BLACK])["code"] == "count_sheet"


def test_days_the_wrong_way_round_are_refused(replay, plant):
    [error] = get(replay, "/counts/accuracy/", 422, first="2027-03-02", last="2027-03-01")["errors"]
    assert error["parameter"] == "first"


def test_only_the_floor_counts(client_with, sheet):
    planner = client_with("plan")
    get(planner, "/count-sheets/", 403)
    get(planner, f"/count-sheets/{sheet}/", 403)
    count(planner, sheet, 20, 403)
    post(planner, f"/count-sheets/{sheet}/close/", 403)
    get(planner, "/counts/next/")
    get(planner, "/counts/accuracy/", first="2027-03-01", last="2027-03-01")
