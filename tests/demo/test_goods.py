"""The catalogue of the demo: as many filaments, sizes and SKUs as the issue asks for, with sound codes."""

from __future__ import annotations

import re

import pandas as pd
from stdnum import ean

from stockplan.demo.generate import DemoPlant


def test_demo_has_about_120_filaments_and_400_skus(plant: DemoPlant) -> None:
    assert len(plant.tables["filaments.csv"]) == 120
    assert 390 <= len(plant.tables["skus.csv"]) <= 410


def test_demo_sells_the_six_sizes_of_the_issue(plant: DemoPlant, skus: pd.DataFrame) -> None:
    sizes = plant.tables["spool_sizes.csv"].set_index("code")["net_g"]
    assert sorted(skus["spool_size"].map(sizes).unique()) == [250, 750, 1000, 2500, 5000, 10000]


def test_demo_plant_has_its_lines_dryers_ovens_and_cut_off(plant: DemoPlant) -> None:
    assert len(plant.tables["lines.csv"]) == 4
    assert (plant.tables["hoppers.csv"].groupby("dryer").size() >= 3).tolist() == [True, True]
    ovens = plant.tables["ovens.csv"]
    assert ovens["places"].nunique() == ovens["temperature_c"].nunique() == len(ovens) == 2
    assert plant.tables["carts.csv"]["code"].is_unique
    assert plant.tables["work_days.csv"]["cut_off"].unique().tolist() == ["13:40"]


def test_gtins_have_the_demonstration_prefix_and_right_check_digits(skus: pd.DataFrame) -> None:
    # Check digits by python-stdnum; prefix 952 is kept for demonstrations (GS1 General Specifications, table of
    # prefixes; from memory).
    assert skus["gtin"].map(ean.is_valid).all()
    assert skus["gtin"].str.fullmatch(r"952\d{10}").all()
    assert skus["gtin"].is_unique


def test_first_gtin_has_the_check_digit_counted_by_hand(skus: pd.DataFrame) -> None:
    # 952641300001: places 2, 4 .. count three times: 3(5+6+1+0+0+1) + (9+2+4+3+0+0) = 39 + 18 = 57, and 60 - 57 = 3.
    assert skus["gtin"].iloc[0] == "9526413000013"


def test_codes_fit_the_rule_of_the_books(plant: DemoPlant) -> None:
    codes = pd.concat(
        [plant.tables[name]["code"] for name in ("skus.csv", "items.csv", "filaments.csv", "colours.csv")]
    )
    assert codes.map(lambda code: re.fullmatch(r"[A-Z0-9][A-Z0-9.-]{0,31}", code) is not None).all()


def test_colour_names_are_told_apart(plant: DemoPlant) -> None:
    colours = plant.tables["colours.csv"]
    assert colours["name"].is_unique
    assert colours["hex"].is_unique


def test_values_grow_with_the_size_of_a_filament(plant: DemoPlant, skus: pd.DataFrame) -> None:
    sizes = plant.tables["spool_sizes.csv"].set_index("code")["net_g"]
    ladder = skus.assign(net_g=skus["spool_size"].map(sizes), value=skus["value"].astype(float))
    steps = ladder.sort_values("net_g").groupby("filament")["value"].diff().dropna()
    assert steps.min() > 0


def test_spools_fit_an_oven_that_their_material_may_enter(plant: DemoPlant) -> None:
    materials = plant.tables["materials.csv"]
    fits = [
        (materials["spool_dry_min_c"] <= celsius) & (celsius <= materials["spool_dry_max_c"])
        for celsius in plant.tables["ovens.csv"]["temperature_c"]
    ]
    assert (fits[0] | fits[1]).all()
    assert plant.tables["spool_sizes.csv"]["max_temp_c"].min() >= plant.tables["ovens.csv"]["temperature_c"].max()


def test_some_large_sizes_are_made_to_order(skus: pd.DataFrame) -> None:
    made_to_order = skus[skus["is_stocked"] == "no"]
    assert 5 <= len(made_to_order) <= 30
    assert set(made_to_order["spool_size"]) <= {"S5000", "S10000"}
