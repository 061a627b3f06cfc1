"""Schema of the catalogue's files: items, materials, colours, diameters, spool sizes, filaments, SKUs."""

from __future__ import annotations

from inventory.plant_files.columns import Column, FileSchema, Kind
from inventory.rules.texts import text


def code(meaning: str) -> Column:
    """Column of a record's own code."""
    return Column(name="code", kind=Kind.TEXT, meaning=f"{meaning}: capital letters, digits, '.' and '-', at most 32")


ITEMS = FileSchema(
    name="items.csv",
    meaning="A resin, colour concentrate, empty spool, box or desiccant that the plant buys and counts.",
    key=("code",),
    columns=(
        code("own code of the item"),
        Column(name="name", kind=Kind.TEXT, meaning="name for people"),
        Column(
            name="kind",
            kind=Kind.TEXT,
            meaning="what it is",
            choices=("resin", "concentrate", "spool_part", "box", "desiccant"),
        ),
        Column(
            name="unit",
            kind=Kind.TEXT,
            meaning="how it is counted: kg for resin and concentrate, piece for the rest",
            choices=("kg", "piece"),
        ),
        Column(
            name="lead_time_days",
            kind=Kind.INTEGER,
            unit="calendar days",
            meaning="from purchase until it is in the store",
            empty="0",
        ),
        Column(
            name="pack_size",
            kind=Kind.NUMBER,
            unit="unit of the item",
            meaning="what is bought is a whole number of packs of this size",
            empty="any quantity can be bought",
            may_be_absent=True,
        ),
        Column(
            name="supplier_minimum",
            kind=Kind.NUMBER,
            unit="unit of the item",
            meaning="least quantity of one purchase",
            empty="0",
            may_be_absent=True,
        ),
    ),
    sentences={
        "item_unit_fits_kind": ("unit", text("resin and concentrate are counted in kg, parts in piece.")),
        "item_purchase_quantities_sound": ("pack_size", text("must be above 0, and supplier_minimum not below 0.")),
    },
)

MATERIALS = FileSchema(
    name="materials.csv",
    meaning="A polymer grade with the drying figures of its supplier's data sheet.",
    key=("code",),
    unique=(("resin_item",),),
    columns=(
        code("own code of the material"),
        Column(name="name", kind=Kind.TEXT, meaning="name for people"),
        Column(name="density_g_cm3", kind=Kind.NUMBER, unit="g/cm3", meaning="density of the solid"),
        Column(name="resin_item", kind=Kind.TEXT, refers_to="items.csv", meaning="the resin it is made of"),
        Column(name="resin_dry_min_c", kind=Kind.INTEGER, unit="deg C", meaning="lowest for drying resin"),
        Column(name="resin_dry_max_c", kind=Kind.INTEGER, unit="deg C", meaning="highest for drying resin"),
        Column(name="resin_dry_hours", kind=Kind.NUMBER, unit="h", meaning="drying before a run may start; 0: none"),
        Column(
            name="dried_keeps_hours",
            kind=Kind.NUMBER,
            unit="h",
            meaning="dried resin may wait this long in its hopper",
            empty="24",
        ),
        Column(name="spool_dry_min_c", kind=Kind.INTEGER, unit="deg C", meaning="lowest oven temperature for spools"),
        Column(name="spool_dry_max_c", kind=Kind.INTEGER, unit="deg C", meaning="highest oven temperature for spools"),
        Column(name="spool_dry_hours", kind=Kind.NUMBER, unit="h", meaning="in the oven after winding; 0: no oven"),
    ),
    sentences={
        "material_density_positive": ("density_g_cm3", text("must be above 0.")),
        "material_drying_ranges_ordered": ("resin_dry_max_c", text("a highest temperature is below its lowest.")),
        "material_hours_not_negative": (
            "resin_dry_hours",
            text("hours must not be negative, and dried_keeps_hours must be above 0."),
        ),
    },
)

COLOURS = FileSchema(
    name="colours.csv",
    meaning="A colour as sold.",
    key=("code",),
    unique=(("concentrate_item",),),
    columns=(
        code("own code of the colour"),
        Column(name="name", kind=Kind.TEXT, meaning="name for people"),
        Column(name="hex", kind=Kind.TEXT, meaning="colour on a screen, #RRGGBB in capitals (sRGB)"),
        Column(
            name="lab_l",
            kind=Kind.NUMBER,
            meaning="CIELAB L* under D65, 0 black to 100 white",
            empty="computed from hex",
        ),
        Column(
            name="concentrate_item",
            kind=Kind.TEXT,
            refers_to="items.csv",
            meaning="its colour concentrate",
            empty="natural, no concentrate",
        ),
        Column(
            name="let_down_share",
            kind=Kind.NUMBER,
            unit="share",
            meaning="share of concentrate in the melt, 0.02 is 2 %",
            empty="0",
        ),
    ),
    sentences={
        "colour_l_range": ("lab_l", text("must lie between 0 and 100.")),
        "colour_let_down_needs_concentrate": (
            "let_down_share",
            text("a colour has a concentrate and a share above 0 and below 1, or neither."),
        ),
    },
)

DIAMETERS = FileSchema(
    name="diameters.csv",
    meaning="A diameter of the strand with its tolerance.",
    key=("nominal_mm",),
    columns=(
        Column(name="nominal_mm", kind=Kind.NUMBER, unit="mm", meaning="nominal diameter"),
        Column(name="tolerance_mm", kind=Kind.NUMBER, unit="mm", meaning="allowed deviation to either side"),
    ),
    sentences={
        "diameter_tolerance_below_nominal": ("tolerance_mm", text("must be above 0 and below the nominal diameter."))
    },
)

SPOOL_SIZES = FileSchema(
    name="spool_sizes.csv",
    meaning="A size of spool as sold.",
    key=("code",),
    columns=(
        code("own code of the size"),
        Column(name="net_g", kind=Kind.INTEGER, unit="g", meaning="filament on the spool as declared"),
        Column(
            name="give_away_g",
            kind=Kind.INTEGER,
            unit="g",
            meaning="wound on top on average",
            empty="0",
        ),
        Column(name="tare_g", kind=Kind.INTEGER, unit="g", meaning="mass of the empty spool"),
        Column(name="spool_part", kind=Kind.TEXT, refers_to="items.csv", meaning="the empty spool"),
        Column(
            name="box_item", kind=Kind.TEXT, refers_to="items.csv", meaning="the box it is packed in", empty="no box"
        ),
        Column(
            name="desiccant_item",
            kind=Kind.TEXT,
            refers_to="items.csv",
            meaning="the desiccant of which one piece is packed with it",
            empty="none is kept in the books",
            may_be_absent=True,
        ),
        Column(
            name="max_temp_c",
            kind=Kind.INTEGER,
            unit="deg C",
            meaning="highest that the empty spool stands",
        ),
        Column(name="oven_places", kind=Kind.NUMBER, unit="places", meaning="oven places of one spool", empty="1"),
    ),
    sentences={
        "spoolsize_net_positive": ("net_g", text("must be above 0.")),
        "spoolsize_places_positive": ("oven_places", text("must be above 0.")),
    },
)

FILAMENTS = FileSchema(
    name="filaments.csv",
    meaning="Material + colour + diameter: what one extrusion run makes.",
    key=("code",),
    unique=(("material", "colour", "diameter"),),
    columns=(
        code("own code of the filament"),
        Column(name="material", kind=Kind.TEXT, refers_to="materials.csv", meaning="its material"),
        Column(name="colour", kind=Kind.TEXT, refers_to="colours.csv", meaning="its colour"),
        Column(name="diameter", kind=Kind.NUMBER, unit="mm", refers_to="diameters.csv", meaning="nominal diameter"),
    ),
)

SKUS = FileSchema(
    name="skus.csv",
    meaning="A filament on one spool size: what is sold.",
    key=("code",),
    unique=(("gtin",), ("filament", "spool_size")),
    columns=(
        code("own code of the SKU"),
        Column(name="name", kind=Kind.TEXT, meaning="name for people"),
        Column(name="gtin", kind=Kind.TEXT, meaning="GTIN of 8, 12, 13 or 14 digits", empty="none"),
        Column(name="filament", kind=Kind.TEXT, refers_to="filaments.csv", meaning="its filament"),
        Column(name="spool_size", kind=Kind.TEXT, refers_to="spool_sizes.csv", meaning="its spool size"),
        Column(name="is_stocked", kind=Kind.YES_NO, meaning="yes: kept on the shelf; no: made to order", empty="yes"),
        Column(name="value", kind=Kind.NUMBER, unit="money", meaning="stock value of one spool"),
        Column(name="active_from", kind=Kind.DATE, meaning="first day on sale"),
        Column(name="active_to", kind=Kind.DATE, meaning="last day on sale", empty="still on sale"),
        Column(name="shelf_place", kind=Kind.TEXT, meaning="where it lies on the shelf", empty="not stated"),
    ),
    sentences={
        "sku_value_not_negative": ("value", text("must not be negative.")),
        "sku_active_dates_ordered": ("active_to", text("is before active_from.")),
    },
)

CATALOGUE_FILES = (ITEMS, MATERIALS, COLOURS, DIAMETERS, SPOOL_SIZES, FILAMENTS, SKUS)
