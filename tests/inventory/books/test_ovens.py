"""Oven loads. Ranges are the tiny plant's data: PLA spools dry 6 h at 45 to 55 degrees, PETG takes 60 to 65."""

from __future__ import annotations

from decimal import Decimal

import pytest

from inventory.errors import NotFoundError
from inventory.models import Movement, OvenLoad, RunOutput, SpoolSize
from inventory.services.ledger import NotEnoughStockError
from inventory.services.ovens import OvenBusyError, OvenLimitError, load_oven, unload_oven
from inventory.services.packing import pack
from tests.inventory.books.floor import KG, QUARTER, finished, loaded
from tests.inventory.books.reading import lying
from tests.inventory.builders import TinyPlant, clock, local, put_on_shelf

pytestmark = pytest.mark.django_db


def test_load_carries_the_spools_into_the_oven(stores: TinyPlant) -> None:
    loaded()
    assert (lying(stores.black_1kg, "wound"), lying(stores.black_1kg, "oven")) == (0, 38)


def test_load_is_ready_after_the_hours_of_its_material(stores: TinyPlant) -> None:
    load = loaded()
    assert (load.ready_at, load.temperature_c, load.hours) == (local("2027-03-01 23:00"), 50, 6)


def test_load_takes_elapsed_hours_over_the_end_of_summer_time(stores: TinyPlant) -> None:
    # 2027-10-31, clocks go back at 03:00: six elapsed hours from 22:00 end at 03:00 winter time (02:00 UTC).
    run = finished().run
    load = load_oven(oven_code="O1", spools=[(run.code, KG, 38)], clock=clock("2027-10-30 22:00"))
    assert load.ready_at == local("2027-10-31 03:00")


def test_load_names_its_movement_by_its_code(stores: TinyPlant) -> None:
    load = loaded()
    assert Movement.objects.get(kind="oven_load").document == load.code


def test_early_load_brings_the_shelf_day_forward(stores: TinyPlant) -> None:
    # Wound Monday 18:00, so expected on Wednesday; loaded at 19:00 all the same: ready 01:00, shelved Tuesday.
    run = finished(at="2027-03-01 18:00").run
    load_oven(oven_code="O1", spools=[(run.code, KG, 38)], clock=clock("2027-03-01 19:00"))
    assert RunOutput.objects.get(sku=stores.black_1kg).shelf_at == local("2027-03-02 09:00")


def test_part_load_leaves_the_shelf_day_to_the_part_that_waits(stores: TinyPlant) -> None:
    run = finished(at="2027-03-01 18:00").run
    load_oven(oven_code="O1", spools=[(run.code, KG, 37)], clock=clock("2027-03-01 19:00"))
    assert RunOutput.objects.get(sku=stores.black_1kg).shelf_at == local("2027-03-03 09:00")


def test_load_is_refused_while_another_is_drying(stores: TinyPlant) -> None:
    load = loaded(spools=20)
    with pytest.raises(OvenBusyError, match=f"holds load {load.code} until"):
        load_oven(oven_code="O1", spools=[(None, KG, 18)], clock=clock("2027-03-01 22:59"))


def test_load_brings_what_is_ready_to_the_bench(stores: TinyPlant) -> None:
    first = loaded(spools=20)
    load_oven(oven_code="O1", spools=[(None, KG, 18)], clock=clock("2027-03-01 23:00"))
    assert (lying(stores.black_1kg, "packing"), lying(stores.black_1kg, "oven")) == (20, 18)
    first.refresh_from_db()
    assert first.unloaded_at == local("2027-03-01 23:00")


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"temperature_c": 44}, "PLA-BLACK-1000 dries at 45 to 55 degrees C .* this load has 44"),
        ({"temperature_c": 56}, "this load has 56"),
        ({"hours": Decimal("5.5")}, "PLA-BLACK-1000 needs 6 h; this load has 5.5 h"),
        ({"hours": Decimal(241)}, "241 hours"),
        ({"spools": [(None, KG, 38), (None, QUARTER, 23)]}, "takes 61 places, oven O1 has 60"),
    ],
)
def test_load_is_refused_outside_its_limits(stores: TinyPlant, fields: dict[str, object], message: str) -> None:
    finished()
    draft = {"oven_code": "O1", "spools": [(None, KG, 38)], "clock": clock("2027-03-01 17:00")}
    with pytest.raises(OvenLimitError, match=message):
        load_oven(**{**draft, **fields})
    assert not OvenLoad.objects.exists()


def test_load_is_refused_above_the_limit_of_the_empty_spool(stores: TinyPlant) -> None:
    finished()
    SpoolSize.objects.filter(code="S1000").update(max_temp_c=48)
    with pytest.raises(OvenLimitError, match="dries at 45 to 48 degrees C"):
        load_oven(oven_code="O1", spools=[(None, KG, 38)], clock=clock("2027-03-01 17:00"))


def test_materials_without_a_common_temperature_share_no_load(stores: TinyPlant) -> None:
    finished()
    put_on_shelf(stores.natural_1kg, 4, place_kind="wound")
    with pytest.raises(OvenLimitError, match="PETG-NAT-1000 dries at 60 to 65"):
        load_oven(oven_code="O1", spools=[(None, KG, 38), (None, "PETG-NAT-1000", 4)], clock=clock("2027-03-01 17:00"))


def test_load_is_refused_of_more_than_waits(stores: TinyPlant) -> None:
    run = finished().run
    with pytest.raises(NotEnoughStockError, match=f"PLA-BLACK-1000 of {run.code}: 39 named, 38 wait for the oven"):
        load_oven(oven_code="O1", spools=[(run.code, KG, 39)], clock=clock("2027-03-01 17:00"))


def test_load_is_refused_of_an_unknown_oven(stores: TinyPlant) -> None:
    with pytest.raises(NotFoundError, match="Oven 'O9'"):
        load_oven(oven_code="O9", spools=[(None, KG, 1)], clock=clock("2027-03-01 17:00"))


def test_load_is_refused_of_an_unknown_run(stores: TinyPlant) -> None:
    with pytest.raises(NotFoundError, match="no run or lot 'R9'"):
        load_oven(oven_code="O1", spools=[("R9", KG, 1)], clock=clock("2027-03-01 17:00"))


def test_unloading_carries_the_spools_to_the_bench(stores: TinyPlant) -> None:
    load = loaded()
    unload_oven(oven_code="O1", clock=clock("2027-03-02 06:00"))
    load.refresh_from_db()
    assert (lying(stores.black_1kg, "packing"), load.unloaded_at) == (38, local("2027-03-02 06:00"))


def test_unloading_is_refused_before_the_load_is_ready(stores: TinyPlant) -> None:
    loaded()
    with pytest.raises(OvenBusyError, match="until"):
        unload_oven(oven_code="O1", clock=clock("2027-03-01 22:00"))


def test_unloading_is_refused_of_an_empty_oven(stores: TinyPlant) -> None:
    with pytest.raises(OvenBusyError, match="holds no load"):
        unload_oven(oven_code="O1", clock=clock("2027-03-01 22:00"))


def test_oven_is_free_again_when_all_was_packed_out_of_it(stores: TinyPlant) -> None:
    load = loaded()
    pack(spools=[(None, KG, 38)], clock=clock("2027-03-02 08:00"))
    load.refresh_from_db()
    assert load.unloaded_at == local("2027-03-02 08:00")
