"""Forms of the admin pages: what they write, and what they refuse in which words."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from inventory.models import Colour, Filament, Sku
from inventory.plant_files.load import LoadReport

pytestmark = [pytest.mark.django_db]


def sku_form(**changes: str) -> dict[str, str]:
    values = {
        "code": "PLA-STONE-175-250",
        "name": "PLA Stone 250 g",
        "filament": str(Filament.objects.get(code="PLA-STONE-175").pk),
        "spool_size": "",
        "gtin": "",
        "is_stocked": "on",
        "value": "4.00",
        "active_from": "2027-03-01",
        "active_to": "",
        "shelf_place": "",
    }
    sizes = Sku.objects.filter(item__code="PLA-SNOW-175-250").values_list("spool_size_id", flat=True)
    return {**values, "spool_size": str(sizes[0]), **changes}


def test_sku_form_makes_the_sku_and_its_ledger_item(admin_client: Client, loaded: LoadReport) -> None:
    response = admin_client.post(reverse("admin:inventory_sku_add"), sku_form(gtin="95012346"))
    assert response.status_code == 302
    sku = Sku.objects.get(item__code="PLA-STONE-175-250")
    assert (sku.item.kind, sku.item.unit, sku.item.name, sku.gtin) == ("sku", "spool", "PLA Stone 250 g", "95012346")


def test_sku_form_takes_two_skus_without_gtin(admin_client: Client, loaded: LoadReport) -> None:
    Sku.objects.filter(item__code="PLA-SNOW-175-250").update(gtin=None)
    assert admin_client.post(reverse("admin:inventory_sku_add"), sku_form()).status_code == 302
    assert Sku.objects.filter(gtin=None).count() == 2


def test_sku_form_changes_the_name_but_not_the_code(admin_client: Client, loaded: LoadReport) -> None:
    sku = Sku.objects.get(item__code="PLA-STONE-175-1000")
    form = sku_form(code="OTHER", name="New name", spool_size=str(sku.spool_size_id))
    assert admin_client.post(reverse("admin:inventory_sku_change", args=[sku.pk]), form).status_code == 302
    sku.item.refresh_from_db()
    assert (sku.item.code, sku.item.name) == ("PLA-STONE-175-1000", "New name")


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        # 95012346 is a GTIN-8 of the GS1 documentation (fixtures/reference/gtin.json): its check digit is 6.
        ({"gtin": "95012345"}, "GTIN '95012345' ends in 5, but its check digit is 6."),
        ({"gtin": "1234"}, "GTIN '1234' must have 8, 12, 13 or 14 digits."),
        ({"code": "PLA-SNOW-175-250"}, "The code PLA-SNOW-175-250 is in use."),
        ({"active_to": "2027-02-01"}, "is before active_from."),
        ({"value": "-1"}, "must not be negative."),
    ],
)
def test_sku_form_says_what_is_wrong(
    admin_client: Client, loaded: LoadReport, changes: dict[str, str], message: str
) -> None:
    response = admin_client.post(reverse("admin:inventory_sku_add"), sku_form(**changes))
    assert response.status_code == 200
    errors = response.context["adminform"].form.errors
    assert message in [reason for reasons in errors.values() for reason in reasons]
    assert Sku.objects.count() == 3


def test_colour_form_computes_lightness_when_it_is_left_empty(admin_client: Client, loaded: LoadReport) -> None:
    form = {"code": "RED", "name": "Red", "hex": "#ff0000", "lab_l": "", "concentrate_item": "", "let_down_share": "0"}
    assert admin_client.post(reverse("admin:inventory_colour_add"), form).status_code == 302
    colour = Colour.objects.get(code="RED")
    # Red of sRGB has L* 53.24 (well-known triple, from memory).
    assert (colour.hex, float(colour.lab_l)) == ("#FF0000", 53.24)


def test_form_fields_carry_the_words_of_the_plant_files(admin_client: Client, loaded: LoadReport) -> None:
    page = admin_client.get(reverse("admin:inventory_material_add")).content.decode()
    assert "Density (g/cm³)" in page
    assert "Density of the solid." in page
