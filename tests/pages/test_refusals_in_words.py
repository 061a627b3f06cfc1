"""What is refused is said in the reader's language: on pages, by the API, of a table that is imported.

The pseudo-language puts every translated text into brackets; the German catalogue shows numbers and plurals.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils import translation
from rest_framework.test import APIClient

from inventory.errors import NotFoundError
from inventory.rules.texts import listed, text
from inventory.wording import in_words
from stockplan.access.models import Scope
from stockplan.access.tokens import create_token
from tests.pages.shown_plant import ShownPlant
from tests.pages.test_pseudo_language import data_of_the_plant, words_out_of_reach

LogIn = Callable[[str], Client]
# What is typed here, and what the plant's files and the API call things: the same in every language.
TYPED = {"NO-SUCH", "NONE", "CART-9", "Open day", "abc", "gauge.csv", "wide", "x_mm", "y_mm", "y-axis", "zz"}
# Names of members and parameters of the API, and its words: codes, whatever the language.
CODES = {"reference", "lines", "sku", "quantity", "channel", "may_part_ship", "wanted_day", "ship_to", "kind"}
CODES |= {"filament", "forbid", "released", "received_at", "line", "as_of", "occurred_at"}
# role, address, what is posted
REFUSED_ON_PAGES = [
    ("sales", "/admin/stock/put/", {"sku": "NONE"}),
    ("sales", "/admin/stock/take/", {"channel": "web", "kind": "regular", "line PLA-BLACK-1000": "2"}),
    ("sales", "/admin/stock/take/", {"reference": "X", "channel": "web", "kind": "regular", "line NONE": "2"}),
    ("sales", "/admin/stock/kept/{order}/give-back/", {}),
    ("floor", "/admin/line/L1/start/", {}),
    ("floor", "/admin/line/L1/finish/", {"real minutes": "1", "purge kg": "0"}),
    ("floor", "/admin/line/L1/diameters/", {"diameters": "1.75 wide"}),
    ("floor", "/admin/line/L1/go-on/", {"run": "{run}"}),
    ("floor", "/admin/line/L1/steps/", {"run": "{run}", "done": "concentrate"}),
    ("floor", "/admin/line/L1/steps/", {"run": "NONE", "done": "purge"}),
    ("floor", "/admin/ovens/O1/unload/", {}),
    ("floor", "/admin/ovens/O1/load/", {}),
    ("floor", "/admin/ovens/O1/load-carts/", {"carts": "CART-9"}),
    ("floor", "/admin/ovens/pack/", {}),
    ("floor", "/admin/carts/CART-1/put/", {}),
    ("floor", "/admin/carts/CART-1/pack/", {}),
    ("floor", "/admin/due/{order}/ship/", {"line 1": "99"}),
    ("floor", "/admin/due/{order}/ship/", {}),
    ("floor", "/admin/trace/hold/", {"lot": "OPEN-PLA-BLACK-1000", "reason": ""}),
    ("floor", "/admin/store/count/write/", {"item": "NO-SUCH", "counted": "1"}),
    ("floor", "/admin/store/count/write/", {"counted": "abc"}),
    ("floor", "/admin/run-cards/{run}/gauge/", {}),
    ("planner", "/admin/filaments/PLA-BLACK-1.75/resize/", {"resize-sku": "PLA-BLACK-1000", "resize-spools": "-1"}),
    ("planner", "/admin/make-list/what-if/forbid/", {"forbid-filament": "NO-SUCH"}),
    ("planner", "/admin/make-list/order/", {"line-rank-1": "NONE", "was-rank-1": "2", "place-rank-1": "2"}),
    ("planner", "/admin/forecast/announced/add/", {"name": "Open day", "factor": "30"}),
    ("planner", "/admin/replays/ask/", {"policy": "NONE"}),
    ("planner", "/admin/run-cards/{run}/move/", {"start": "abc"}),
    ("owner", "/admin/owner/order-target/try/", {"percent": "101"}),
]
REFUSED_BY_THE_API = [
    ("/api/v1/orders/", {}),
    ("/api/v1/orders/", {"colour": 3, "reference": "R", "lines": [{"sku": "PLA-BLACK-1000", "quantity": "2"}]}),
    ("/api/v1/orders/", {"channel": "web", "reference": "R", "lines": [{"sku": "NONE", "quantity": 2}]}),
    ("/api/v1/runs/NONE/start/", {}),
    ("/api/v1/runs/NONE/start/", {"occurred_at": "2020-01-01T00:00:00Z"}),
    ("/api/v1/make-lists/what-if/", {"changes": [{"change": "forbid", "filament": "NO-SUCH"}]}),
    ("/api/v1/make-lists/what-if/", {"changes": [{"change": "forbid"}]}),
    ("/api/v1/nowhere/", {}),
]


def filled(given: Mapping[str, str], plant: ShownPlant) -> dict[str, str]:
    return {name: plant.fill_in(value) for name, value in given.items()}


@pytest.mark.parametrize(("role", "path", "posted"), REFUSED_ON_PAGES, ids=lambda part: str(part)[:60])
def test_page_that_refuses_says_so_in_words_of_the_catalogue(
    shown: ShownPlant, logged_in: LogIn, pseudo: None, *, role: str, path: str, posted: dict[str, str]
) -> None:
    answer = logged_in(role).post(shown.fill_in(path), filled(posted, shown), follow=True)
    assert answer.status_code == 422 or 'role="alert"' in answer.text or "message" in answer.text
    assert words_out_of_reach(answer.text, data=data_of_the_plant() | TYPED) == []


def test_file_of_a_gauge_is_refused_cell_by_cell_in_words_of_the_catalogue(
    shown: ShownPlant, logged_in: LogIn, pseudo: None
) -> None:
    file = SimpleUploadedFile("gauge.csv", b"x_mm,y_mm\n1.75,abc\n,1.75\n17.5,1.75\n1.75\n", content_type="text/csv")
    answer = logged_in("floor").post(f"/admin/run-cards/{shown.run.code}/gauge/", {"file": file})
    assert answer.status_code == 422
    assert answer.text.count("gauge.csv") == 4
    assert words_out_of_reach(answer.text, data=data_of_the_plant() | TYPED) == []


@pytest.mark.parametrize("row", ["ABC,Abc,abc,50\n", "Z,Zz,#123456,\n"], ids=["a cell", "no column"])
def test_table_of_colours_is_refused_in_words_of_the_catalogue(
    shown: ShownPlant, admin_client: Client, pseudo: None, row: str
) -> None:
    header = "code,name,hex,lab_l,concentrate_item,let_down_share\n"
    content = (header if "ABC" in row else header.replace("let_down_share", "share")) + row.replace("\n", ",,\n")
    file = SimpleUploadedFile("colours.csv", content.encode(), content_type="text/csv")
    answer = admin_client.post("/admin/inventory/colour/import/", {"import_file": file, "format": "0"})
    said = [str(error) for error in refusals_of(answer)]
    assert said
    names = {"code", "name", "hex", "lab_l", "concentrate_item", "let_down_share", "share", "abc", "RRGGBB"}
    assert words_out_of_reach("\n".join(said), data=names) == []


def refusals_of(answer: Any) -> list[str]:
    """What an import says of a table and of its rows."""
    result = answer.context["result"]
    of_rows = [str(error.error) for _, errors in result.row_errors() for error in errors]
    of_cells = [
        str(message) for row in result.invalid_rows for said in row.field_specific_errors.values() for message in said
    ]
    return [*(str(error.error) for error in result.base_errors), *of_rows, *of_cells]


@pytest.mark.parametrize(("path", "body"), REFUSED_BY_THE_API, ids=lambda part: str(part)[:50])
def test_api_says_what_it_refuses_in_words_of_the_catalogue(
    shown: ShownPlant, pseudo: None, path: str, body: dict[str, Any]
) -> None:
    answer = caller().post(path, body, format="json")
    assert answer.status_code >= 400
    found = answer.json()
    said = [found["detail"], *(error["detail"] for error in found.get("errors", ()))]
    assert words_out_of_reach("\n".join(said), data=data_of_the_plant() | TYPED | CODES | {path}) == []


def caller() -> APIClient:
    token = create_token(name="test", scopes=Scope.values, channel_code=None, days=1)
    return APIClient(headers={"authorization": f"Bearer {token}"})


def test_api_says_details_in_the_language_asked_for_and_nothing_else_changes(german: None, shown: ShownPlant) -> None:
    client = caller()
    english, german_one = (
        client.post("/api/v1/runs/NONE/start/", {}, format="json", headers={"accept-language": language}).json()
        for language in ("fr", "de")
    )
    assert english.pop("detail") == "There is no run 'NONE'."
    assert german_one.pop("detail") == "Es gibt keinen Lauf 'NONE'."
    assert english == german_one


def test_page_says_why_in_the_language_asked_for(german: None, shown: ShownPlant, logged_in: LogIn) -> None:
    path, typed = "/admin/store/scrap/write/", {"item": "NO-SUCH", "place": "shelf", "quantity": "1", "reason": "x"}
    answer = logged_in("floor").post(path, typed, headers={"accept-language": "de"})
    assert "Es gibt kein Material &#x27;NO-SUCH&#x27;." in answer.text


def test_error_is_said_with_the_numbers_of_the_reader_and_stays_english_otherwise(german: None) -> None:
    # Unicode CLDR 46, de: comma before decimals.
    error = NotFoundError(
        "{what}: {quantity} asked for.", what=text("{place} in lot {lot}", place="L", lot=4), quantity=Decimal("0.25")
    )
    with translation.override("de"):
        assert in_words(error) == "L in Charge 4: 0,25 verlangt."
        assert in_words(listed(["A", "B", "C"])) == "A und B und C"
        assert str(error) == "L in lot 4: 0.25 asked for."
    assert in_words(error) == str(error)


@pytest.mark.parametrize(("n", "words"), [(1, "Platz 1 allein"), (3, "die Plätze 1 bis 3")])
def test_text_follows_the_number_in_each_language(german: None, n: int, words: str) -> None:
    with translation.override("de"):
        assert in_words(text("place {n} alone", "places 1 to {n}", n=n)) == words
