"""Each constraint of catalogue and plant: a fault with file, line and column at load, IntegrityError past it."""

from __future__ import annotations

from pathlib import Path

import pytest
from django.db.models import F

from inventory.models import Changeover, PlantParameters, Sku
from inventory.plant_files.faults import PlantFileError
from inventory.plant_files.load import LoadReport, PlantNotEmptyError, load_plant
from tests.constraints import clean_error_of, copy_of, named_constraints, refused, refused_by_database
from tests.inventory.catalogue.conftest import MONDAY
from tests.inventory.plant_dir import replace_in

pytestmark = pytest.mark.django_db

# What is changed in which file of the small plant, and the line and column that the fault must name.
BROKEN_FILES = [
    clean_error_of(
        "item_unit_fits_kind", "items.csv", "RESIN-PLA,PLA resin,resin,kg", "RESIN-PLA,PLA resin,resin,piece", 7, "unit"
    ),
    clean_error_of(
        "item_purchase_quantities_sound",
        "items.csv",
        "RESIN-PLA,PLA resin,resin,kg,14,25,500",
        "RESIN-PLA,PLA resin,resin,kg,14,0,500",
        7,
        "pack_size",
    ),
    clean_error_of("material_density_positive", "materials.csv", "PLA,PLA,1.24", "PLA,PLA,0", 2, "density_g_cm3"),
    clean_error_of(
        "material_drying_ranges_ordered", "materials.csv", "RESIN-PLA,60,80", "RESIN-PLA,90,80", 2, "resin_dry_max_c"
    ),
    clean_error_of("material_hours_not_negative", "materials.csv", "80,4,24", "80,4,0", 2, "resin_dry_hours"),
    clean_error_of("colour_l_range", "colours.csv", "96.78", "100.01", 2, "lab_l"),
    clean_error_of("colour_let_down_needs_concentrate", "colours.csv", "CON-STONE,0.02", ",0.02", 3, "let_down_share"),
    clean_error_of("diameter_tolerance_below_nominal", "diameters.csv", "1.75,0.03", "1.75,1.75", 2, "tolerance_mm"),
    clean_error_of("spoolsize_net_positive", "spool_sizes.csv", "G250,250", "G250,0", 2, "net_g"),
    clean_error_of("spoolsize_places_positive", "spool_sizes.csv", "60,0.5", "60,0", 2, "oven_places"),
    clean_error_of("sku_value_not_negative", "skus.csv", "yes,9.5", "yes,-9.5", 2, "value"),
    clean_error_of(
        "sku_active_dates_ordered", "skus.csv", "yes,9,2026-01-05,", "yes,9,2026-01-05,2025-12-31", 4, "active_to"
    ),
    clean_error_of(
        "plantparameters_target_share_range", "parameters.csv", "target_share,0.97", "target_share,1", 6, "value"
    ),
    clean_error_of(
        "plantparameters_order_target_range",
        "parameters.csv",
        "order_target_share,",
        "order_target_share,1",
        17,
        "value",
    ),
    clean_error_of("plantparameters_review_positive", "parameters.csv", "review_days,5", "review_days,0", 8, "value"),
    clean_error_of(
        "plantparameters_search_not_negative", "parameters.csv", "search_moves,0", "search_moves,-1", 18, "value"
    ),
    clean_error_of(
        "plantparameters_moved_run_price_not_negative",
        "parameters.csv",
        "moved_run_price,2",
        "moved_run_price,-2",
        19,
        "value",
    ),
    clean_error_of("plantparameters_currency_is_a_code", "parameters.csv", "currency,CHF", "currency,sfr", 20, "value"),
    clean_error_of("workday_pick_up_after_cut_off", "work_days.csv", "0,13:40,16:00", "0,13:40,12:00", 2, "pick_up"),
    clean_error_of(
        "workday_shelf_ready_after_packing",
        "work_days.csv",
        "0,13:40,16:00,18:00,06:00,09:00",
        "0,13:40,16:00,18:00,06:00,06:00",
        2,
        "shelf_ready",
    ),
    clean_error_of("line_limit_positive", "lines.csv", "PLA-STONE-175,14", "PLA-STONE-175,0", 2, "extruder_kg_h"),
    clean_error_of("line_scrap_range", "lines.csv", "15,0.02", "15,1", 2, "scrap_share"),
    clean_error_of("line_availability_range", "lines.csv", "0.02,0.9", "0.02,1.1", 2, "availability"),
    clean_error_of("linespeed_positive", "line_speeds.csv", "PLA-SNOW-175,55,1", "PLA-SNOW-175,0,1", 2, "speed_m_min"),
    clean_error_of("changeover_purge_not_negative", "changeovers.csv", "45,6", "45,-6", 2, "purge_kg"),
    clean_error_of(
        "changeover_two_filaments",
        "changeovers.csv",
        "PLA-STONE-175,PLA-SNOW-175",
        "PLA-STONE-175,PLA-STONE-175",
        2,
        "to_filament",
    ),
    clean_error_of("hopper_capacity_positive", "hoppers.csv", "D1,150", "D1,0", 2, "capacity_kg"),
    clean_error_of("oven_places_positive", "ovens.csv", "80,50", "0,50", 2, "places"),
    clean_error_of("crew_size_positive", "crews.csv", "0,06:00,22:00,1", "0,06:00,22:00,0", 2, "size"),
    clean_error_of(
        "filament_one_per_combination",
        "filaments.csv",
        "PLA-STONE-175,PLA,STONE,1.75\n",
        "PLA-STONE-175,PLA,STONE,1.75\nTWIN,PLA,STONE,1.75\n",
        4,
        "diameter",
    ),
    clean_error_of(
        "sku_one_per_filament_and_size", "skus.csv", "PLA-SNOW-175,G250", "PLA-SNOW-175,KG1", 3, "spool_size"
    ),
    clean_error_of(
        "linespeed_one_per_line_and_filament",
        "line_speeds.csv",
        "L1,PLA-SNOW-175,55,1\n",
        "L1,PLA-SNOW-175,55,1\nL1,PLA-SNOW-175,50,1\n",
        3,
        "filament",
    ),
    clean_error_of(
        "changeover_one_per_line_and_pair",
        "changeovers.csv",
        "45,6\n",
        "45,6\nL1,PLA-STONE-175,PLA-SNOW-175,50,6\n",
        3,
        "to_filament",
    ),
    clean_error_of(
        "changeover_one_per_pair_on_every_line",
        "changeovers.csv",
        "45,6\n",
        "45,6\n,PLA-STONE-175,PLA-SNOW-175,50,6\n,PLA-STONE-175,PLA-SNOW-175,55,6\n",
        4,
        "to_filament",
    ),
    clean_error_of(
        "shift_one_per_line_and_start",
        "shifts.csv",
        "L1,0,06:00,22:00\n",
        "L1,0,06:00,22:00\nL1,0,06:00,14:00\n",
        3,
        "start",
    ),
    clean_error_of(
        "crew_one_per_start", "crews.csv", "0,06:00,22:00,1\n", "0,06:00,22:00,1\n0,06:00,14:00,1\n", 3, "start"
    ),
]
BROKEN_VALUES = [
    refused_by_database("item_unit_fits_kind", {"unit": "spool"}),
    refused_by_database("item_purchase_quantities_sound", {"supplier_minimum": -1}),
    refused_by_database("material_density_positive", {"density_g_cm3": 0}),
    refused_by_database("material_drying_ranges_ordered", {"spool_dry_min_c": 99}),
    refused_by_database("material_hours_not_negative", {"dried_keeps_hours": 0}),
    refused_by_database("colour_l_range", {"lab_l": "100.01"}),
    refused_by_database("colour_let_down_needs_concentrate", {"let_down_share": 0}),
    refused_by_database("diameter_tolerance_below_nominal", {"tolerance_mm": F("nominal_mm")}),
    refused_by_database("spoolsize_net_positive", {"net_g": 0}),
    refused_by_database("spoolsize_places_positive", {"oven_places": 0}),
    refused_by_database("sku_value_not_negative", {"value": -1}),
    refused_by_database("sku_active_dates_ordered", {"active_to": "2025-12-31"}),
    refused_by_database("plantparameters_target_share_range", {"target_share": 1}),
    refused_by_database("plantparameters_order_target_range", {"order_target_share": 0}),
    refused_by_database("plantparameters_review_positive", {"review_days": 0}),
    refused_by_database("plantparameters_search_not_negative", {"search_moves": -1}),
    refused_by_database("plantparameters_moved_run_price_not_negative", {"moved_run_price": -1}),
    refused_by_database("plantparameters_currency_is_a_code", {"currency": "eur"}),
    refused_by_database("workday_pick_up_after_cut_off", {"pick_up": "13:39"}),
    refused_by_database("workday_shelf_ready_after_packing", {"shelf_ready": F("pack_from")}),
    refused_by_database("line_limit_positive", {"extruder_kg_h": 0}),
    refused_by_database("line_scrap_range", {"scrap_share": 1}),
    refused_by_database("line_availability_range", {"availability": 0}),
    refused_by_database("linespeed_positive", {"strands": 0}),
    refused_by_database("changeover_purge_not_negative", {"purge_kg": -1}),
    refused_by_database("changeover_two_filaments", {"to_filament": F("from_filament")}),
    refused_by_database("hopper_capacity_positive", {"capacity_kg": 0}),
    refused_by_database("oven_places_positive", {"places": 0}),
    refused_by_database("crew_size_positive", {"size": 0}),
]
TWINS = [
    refused_by_database("filament_one_per_combination", {"code": "TWIN"}),
    refused_by_database("linespeed_one_per_line_and_filament", {}),
    refused_by_database("changeover_one_per_line_and_pair", {}),
    refused_by_database("shift_one_per_line_and_start", {}),
    refused_by_database("crew_one_per_start", {}),
]


@pytest.mark.parametrize(("constraint", "file", "old", "new", "line", "column"), BROKEN_FILES)
def test_file_that_breaks_a_rule_is_a_fault_in_its_line_and_column(
    plant_dir: Path, *, constraint: str, file: str, old: str, new: str, line: int, column: str
) -> None:
    replace_in(plant_dir / file, old, new)
    with pytest.raises(PlantFileError) as caught:
        load_plant(plant_dir, as_of=MONDAY)
    assert [(fault.file, fault.line, fault.column) for fault in caught.value.faults] == [(file, line, column)]
    assert not named_constraints()[constraint][0]._default_manager.exists()


@pytest.mark.parametrize(("constraint", "values"), BROKEN_VALUES)
def test_value_that_breaks_a_rule_is_refused_past_the_files(
    loaded: LoadReport, constraint: str, values: dict[str, object]
) -> None:
    with refused(constraint):
        named_constraints()[constraint][0]._default_manager.update(**values)


@pytest.mark.parametrize(("constraint", "changes"), TWINS)
def test_second_row_of_a_key_is_refused_past_the_files(
    loaded: LoadReport, constraint: str, changes: dict[str, object]
) -> None:
    with refused(constraint):
        copy_of(named_constraints()[constraint][0]._default_manager.first(), **changes)


@pytest.mark.refused_by_database("sku_one_per_filament_and_size")
def test_second_sku_of_a_filament_and_size_is_refused_past_the_files(loaded: LoadReport) -> None:
    with refused("sku_one_per_filament_and_size"):
        Sku.objects.filter(item__code="PLA-SNOW-175-250").update(spool_size=Sku.objects.first().spool_size)


@pytest.mark.refused_by_database("changeover_one_per_pair_on_every_line")
def test_second_changeover_of_a_pair_on_every_line_is_refused_past_the_files(loaded: LoadReport) -> None:
    Changeover.objects.update(line=None)
    with refused("changeover_one_per_pair_on_every_line"):
        copy_of(Changeover.objects.get())


@pytest.mark.clean_error_of("plantparameters_single_row")
def test_second_plant_is_refused_at_load(loaded: LoadReport, plant_dir: Path) -> None:
    with pytest.raises(PlantNotEmptyError):
        load_plant(plant_dir, as_of=MONDAY)
    assert PlantParameters.objects.count() == 1


@pytest.mark.refused_by_database("plantparameters_single_row")
def test_second_row_of_parameters_is_refused_past_the_files(loaded: LoadReport) -> None:
    with refused("plantparameters_single_row"):
        PlantParameters.objects.create(id=2, name="second", time_zone="Europe/Berlin")
