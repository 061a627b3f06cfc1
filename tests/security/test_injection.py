"""Text that would be code if it were pasted into a query (CWE-89), a pattern or a cell (CWE-1236): it stays text."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from django.contrib import admin
from django.test import Client
from django.urls import reverse
from drf_spectacular.generators import SchemaGenerator

from inventory.models import Channel, CountSheet, Item, Order, Sku
from stockplan.planner.pages.tables import TABLES
from tests.api.calls import order, post, put_on_shelf
from tests.pages.shown_plant import ShownPlant

SQL = ["' OR '1'='1", "'; DROP TABLE inventory_order; --", '" OR ""="', "1) OR (1=1", "\\' OR 1=1 #", "%", "_", "*"]
# The signs that OWASP's page on CSV injection names (from memory), the wide ones of East Asian spreadsheets among them.
FORMULAE = [
    "=1+1", "+1+1", "-1+1", "@SUM(1)", "\t=1", "\r=1", '=HYPERLINK("http://example.org")', "\n=1",
    "\N{FULLWIDTH EQUALS SIGN}1", "\N{FULLWIDTH PLUS SIGN}1", "\N{FULLWIDTH HYPHEN-MINUS}1",
    "\N{FULLWIDTH COMMERCIAL AT}SUM(1)",
]  # fmt: skip
LogIn = Callable[[str], Client]


def _text_filters() -> list[tuple[str, str]]:
    """Path and name of every query parameter that takes free text."""
    document = SchemaGenerator().get_schema(request=None, public=True)
    free = []
    for path, operations in document["paths"].items():
        for parameter in operations.get("get", {}).get("parameters", []):
            schema: dict[str, Any] = parameter["schema"]
            kind = schema.get("items", schema) if schema.get("type") == "array" else schema
            is_free = kind.get("type") == "string" and not {"enum", "format"} & set(kind)
            if parameter["in"] == "query" and is_free and "$ref" not in kind and "{" not in path:
                free.append((path, parameter["name"]))
    return free


FILTERS = _text_filters()


def test_there_are_filters_to_try():
    assert {("/api/v1/stock/", "search"), ("/api/v1/orders/", "reference"), ("/api/v1/skus/", "material")} <= set(
        FILTERS
    )


# A cursor is a place in a list.
@pytest.mark.parametrize(("path", "name"), [each for each in FILTERS if each[1] != "cursor"])
def test_filter_of_the_api_takes_it_for_text(plant, live, path, name):
    order(live, "A-1", at=None)
    for text in SQL:
        # A search drops signs that no word has, and without a word it finds everything.
        if name == "search" and len(text) == 1:
            continue
        answer = live.get(path, {name: text})
        assert answer.status_code in (200, 400, 404), text
        # Nothing is called so; a filter that became part of a query would let the rows through.
        assert answer.status_code != 200 or answer.json().get("results", []) == [], text
        assert Order.objects.count() == 1, text


@pytest.mark.parametrize("path", ["/runs/{}/", "/trace/lots/{}/", "/count-sheets/{}/", "/runs/{}/quality/"])
@pytest.mark.parametrize("text", ["' OR '1'='1", "%25", "_", "1 OR 1=1"])
def test_code_in_an_address_is_text(plant, live, path, text):
    assert live.get("/api/v1" + path.format(text)).status_code == 404


@pytest.mark.parametrize("path", ["/admin/stock/?q=", "/admin/trace/?q=", "/admin/trace/?lot=", "/admin/trace/?run="])
def test_search_of_a_page_takes_it_for_text(shown: ShownPlant, logged_in: LogIn, path: str) -> None:
    where, name = path.removesuffix("=").split("?")
    client = logged_in("owner")
    for text in (*SQL, "\x00"):
        answer = client.get(where, {name: text})
        assert answer.status_code in (200, 400, 404), text
        assert f"PLA-RUBY-1000{text}" not in answer.text, text
        assert Sku.objects.count() == 5, text


def test_search_of_records_takes_it_for_text(
    shown: ShownPlant, admin_client: Client, subtests: pytest.Subtests
) -> None:
    for model in [model for model, page in admin.site._registry.items() if page.search_fields]:
        address = reverse(f"admin:{model._meta.app_label}_{model._meta.model_name}_changelist")
        for text in SQL:
            with subtests.test(address, text=text):
                answer = admin_client.get(address, {"q": text})
                assert answer.status_code == 200
                assert answer.context["cl"].result_count == 0


@pytest.mark.parametrize(
    "path",
    [
        "/admin/skus/%00/", "/admin/filaments/%00/", "/admin/line/%00/", "/admin/run-cards/%00/",
        "/admin/run-cards/%00/quality/", "/admin/labels/shelf/%00.pdf", "/admin/labels/spools/%00.pdf",
        "/admin/tables/sku.csv?code=%00", "/admin/codes/sku/?q=%00",
    ],
)  # fmt: skip
def test_nul_in_an_address_of_a_page_names_nothing(shown: ShownPlant, logged_in: LogIn, path: str) -> None:
    """PostgreSQL refuses to be asked for it."""
    assert logged_in("owner").get(path).status_code == 400


@pytest.mark.parametrize("path", ["trace/hold/", "line/L1/stop/", "stock/put/", "store/hold/write/", "ovens/pack/"])
def test_nul_in_a_form_is_refused(shown: ShownPlant, logged_in: LogIn, path: str) -> None:
    typed = dict.fromkeys(("lot", "reason", "note", "sku", "code", "spools"), "A\x00")
    assert logged_in("owner").post(f"/admin/{path}", typed).status_code == 400


# Tables that plan for seconds, or are of one record, which the address names.
TRACES = sorted(name for name in TABLES if name.startswith("trace-"))
OF_ONE = {
    "to-buy", "sku", "make-list", "left-out", "changes", "promises", "sizes", "subgroups", "due-order", "cart",
    "run-card", "what-if", "changeover-steps", "count-sheet", *TRACES,
}  # fmt: skip


@pytest.fixture
def formulae(plant, replay) -> None:
    """Orders whose references and addresses are formulae, one of each shipped; a SKU of such a name."""
    put_on_shelf(replay, "PLA-BLACK-1000", 50)
    Item.objects.filter(code="PLA-BLACK-1000").update(name=FORMULAE[0])
    for text in FORMULAE:
        # A control character is refused by the API; what is in the books from elsewhere is not trusted either.
        Order.objects.filter(pk=order(replay, f"R{len(text)}{ord(text[0])}")["id"]).update(reference=text, ship_to=text)
    for number in Order.objects.values_list("pk", flat=True):
        post(replay, "/shipments/", order=number, occurred_at="2027-03-01T15:00:00+01:00")
    Channel.objects.update(name=FORMULAE[0])
    post(replay, "/count-sheets/", skus=["PLA-BLACK-1000"])


@pytest.mark.parametrize(
    "address",
    [
        *(f"/admin/tables/{name}.csv" for name in sorted(set(TABLES) - OF_ONE)),
        "/admin/tables/promises.csv?order={order}",
        "/admin/tables/sizes.csv?code=PLA-BLACK-1.75",
        "/admin/tables/count-sheet.csv?code={sheet}",
        *(f"/admin/tables/{name}.csv?lot={{lot}}" for name in TRACES),
    ],
)  # fmt: skip
def test_table_of_a_page_begins_no_formula(formulae, logged_in: LogIn, address: str) -> None:
    lot = Item.objects.get(code="PLA-BLACK-1000").lots.get().code
    number = Order.objects.values_list("pk", flat=True).latest("pk")
    sheet = CountSheet.objects.get().code
    answer = logged_in("owner").get(address.format(lot=lot, order=number, sheet=sheet))
    rows = list(csv.reader(io.StringIO(answer.text, newline="")))
    assert answer.status_code == 200
    assert [cell for row in rows for cell in row if cell.startswith(("=", "+", "-1+", "@", "\t", "\r"))] == []


@pytest.mark.parametrize("name", sorted(TABLES))
def test_no_table_lets_a_formula_through_whatever_its_rows(
    shown: ShownPlant, logged_in: LogIn, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    monkeypatch.setitem(TABLES, name, replace(TABLES[name], rows=lambda _request: [FORMULAE]))
    answer = logged_in("owner").get(f"/admin/tables/{name}.csv")
    _, row = csv.reader(io.StringIO(answer.text, newline=""))
    assert row == [f"'{text}" for text in FORMULAE]


def test_table_of_deliveries_holds_the_text_of_the_formula(formulae, logged_in: LogIn) -> None:
    lot = Item.objects.get(code="PLA-BLACK-1000").lots.get().code
    text = logged_in("owner").get(f"/admin/tables/trace-delivered.csv?lot={lot}").text
    assert all(f"'{formula}" in text for formula in FORMULAE[:4])
