"""Lists whose rows hold only the members that the client names."""

from __future__ import annotations

import pytest

from tests.api.calls import get, order, put_on_shelf

LISTS = ["/stock/", "/skus/", "/orders/", "/runs/"]


def test_rows_hold_only_what_was_named(plant, replay):
    put_on_shelf(replay, "PLA-BLACK-1000", 5)
    rows = get(replay, "/stock/", fields="free,sku", sku="PLA-BLACK-1000")["results"]
    assert rows == [{"sku": "PLA-BLACK-1000", "free": 5}]


def test_orders_and_skus_are_cut_as_well(plant, replay):
    order(replay, "A-1")
    assert get(replay, "/orders/", fields="reference")["results"] == [{"reference": "A-1"}]
    assert set(get(replay, "/skus/", fields="gtin,sku")["results"][0]) == {"gtin", "sku"}


@pytest.mark.parametrize("path", LISTS)
def test_name_that_no_row_has_is_refused_with_those_that_it_has(plant, live, path):
    body = get(live, path, 400, fields="state,password")
    assert body["errors"][0]["parameter"] == "fields"
    assert "Name members of a row, parted by commas: " in body["errors"][0]["detail"]


@pytest.mark.parametrize("names", ["", ",", "sku,", "sku;free", "SKU"])
def test_malformed_names_are_refused(plant, live, names):
    get(live, "/stock/", 400, fields=names)


def test_page_after_it_is_cut_the_same(plant, live):
    following = get(live, "/skus/", fields="sku", limit=1)["next"]
    assert "fields=sku" in following
    assert set(live.get(following).json()["results"][0]) == {"sku"}


def test_other_members_have_another_tag(plant, live):
    tags = {live.get("/api/v1/stock/", {"fields": names}).headers["ETag"] for names in ("sku", "sku,free")}
    assert len(tags) == 2
