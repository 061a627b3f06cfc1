"""Schema of the plant's own files: parameters, working time, lines, dryers, ovens, carts."""

from __future__ import annotations

from inventory.plant_files.columns import Column, FileSchema, Kind
from inventory.plant_files.schema_catalogue import code
from inventory.rules.texts import text

WEEKDAY = Column(name="weekday", kind=Kind.INTEGER, meaning="0 Monday to 6 Sunday")
START = Column(name="start", kind=Kind.TIME, meaning="start of the window")
END = Column(name="end", kind=Kind.TIME, meaning="end of the window; at or before the start: on the next day")

PARAMETERS = FileSchema(
    name="parameters.csv",
    meaning="One figure of the whole plant; the keys are listed below.",
    key=("key",),
    columns=(
        Column(name="key", kind=Kind.TEXT, meaning="name of the figure"),
        Column(name="value", kind=Kind.TEXT, meaning="its value", empty="where the key may be empty, see below"),
    ),
    # These name the key, not a column.
    sentences={
        "plantparameters_target_share_range": ("target_share", text("must lie above 0 and below 1.")),
        "plantparameters_order_target_range": (
            "order_target_share",
            text("must lie above 0 and below 1, or be empty."),
        ),
        "plantparameters_currency_is_a_code": ("currency", text("must be three capital letters.")),
        "plantparameters_review_positive": ("review_days", text("must be above 0.")),
        "plantparameters_search_not_negative": ("search_moves", text("must not be below 0.")),
        "plantparameters_moved_run_price_not_negative": ("moved_run_price", text("must not be below 0.")),
    },
)
# An absent key of this table counts as empty.
PARAMETER_KEYS = (
    Column(name="name", kind=Kind.TEXT, meaning="name of the plant"),
    Column(name="time_zone", kind=Kind.TEXT, meaning="IANA zone of the plant, Area/Place"),
    Column(name="holiday_country", kind=Kind.TEXT, meaning="ISO 3166-1, two letters", empty="no public holidays"),
    Column(
        name="holiday_subdivision", kind=Kind.TEXT, meaning="ISO 3166-2 part after the hyphen", empty="whole country"
    ),
    Column(name="target_share", kind=Kind.NUMBER, unit="share", meaning="demand to ship on its due day", empty="0.97"),
    Column(
        name="holding_rate_per_year",
        kind=Kind.NUMBER,
        unit="share per year",
        meaning="cost of holding stock as a share of its value",
        empty="0.2",
    ),
    Column(
        name="review_days", kind=Kind.INTEGER, unit="ship days", meaning="ship days between two make lists", empty="5"
    ),
    Column(name="line_hour_cost", kind=Kind.NUMBER, unit="money/h", meaning="cost of a line hour", empty="40"),
    Column(name="min_run_minutes", kind=Kind.INTEGER, unit="min", meaning="shortest run worth a start", empty="30"),
    Column(
        name="mass_tolerance_share",
        kind=Kind.NUMBER,
        unit="share",
        meaning="difference of mass in and out at which a run is flagged",
        empty="0.02",
    ),
    Column(name="material_change_min", kind=Kind.INTEGER, unit="min", meaning="changeover of material", empty="60"),
    Column(name="diameter_change_min", kind=Kind.INTEGER, unit="min", meaning="changeover of diameter", empty="25"),
    Column(name="colour_change_min", kind=Kind.INTEGER, unit="min", meaning="changeover of colour", empty="12"),
    Column(
        name="darker_to_lighter_min",
        kind=Kind.NUMBER,
        unit="min",
        meaning="extra minutes per point of L* when the next colour is lighter",
        empty="0.5",
    ),
    Column(name="purge_kg_per_hour", kind=Kind.NUMBER, unit="kg/h", meaning="purged per hour of changeover", empty="8"),
    Column(
        name="order_target_share",
        kind=Kind.NUMBER,
        unit="share",
        meaning="orders to ship complete on their due day, at least stock value",
        empty="every SKU has the target of target_share",
    ),
    Column(
        name="search_moves",
        kind=Kind.INTEGER,
        unit="moves",
        meaning="tried by a make list's search for each filament; 0: the list of the index",
        empty="1000",
    ),
    Column(
        name="moved_run_price",
        kind=Kind.NUMBER,
        unit="misses",
        meaning="that planning released runs anew must avoid for each one that moves",
        empty="2",
    ),
    Column(name="currency", kind=Kind.TEXT, meaning="of all money, ISO 4217, three letters", empty="EUR"),
)

WORK_DAYS = FileSchema(
    name="work_days.csv",
    meaning="The plant's clock for one weekday.",
    key=("weekday",),
    columns=(
        WEEKDAY,
        Column(name="cut_off", kind=Kind.TIME, meaning="orders before it ship the same day", empty="no ship day"),
        Column(name="pick_up", kind=Kind.TIME, meaning="the carrier leaves", empty="no ship day"),
        Column(name="oven_load_at", kind=Kind.TIME, meaning="ovens are loaded", empty="ovens are not loaded"),
        Column(name="pack_from", kind=Kind.TIME, meaning="packing starts", empty="nobody packs"),
        Column(
            name="shelf_ready", kind=Kind.TIME, meaning="what came out of the oven is shelved", empty="nobody packs"
        ),
        Column(name="pack_spools", kind=Kind.INTEGER, unit="spools", meaning="can be packed until then", empty="0"),
    ),
    sentences={
        "workday_pick_up_after_cut_off": (
            "pick_up",
            text("cut_off and pick_up go together, pick_up not before cut_off."),
        ),
        "workday_shelf_ready_after_packing": (
            "shelf_ready",
            text("pack_from and shelf_ready go together, shelf_ready after pack_from."),
        ),
    },
)

CLOSURES = FileSchema(
    name="closures.csv",
    meaning="A day on which the plant neither ships nor runs, beside the public holidays.",
    key=("day",),
    is_required=False,
    absent="no closures beside the public holidays",
    columns=(
        Column(name="day", kind=Kind.DATE, meaning="the closed day"),
        Column(name="reason", kind=Kind.TEXT, meaning="why"),
    ),
)

LINES = FileSchema(
    name="lines.csv",
    meaning="An extrusion line and what is in its barrel.",
    key=("code",),
    columns=(
        code("own code of the line"),
        Column(name="name", kind=Kind.TEXT, meaning="name for people"),
        Column(
            name="holds", kind=Kind.TEXT, refers_to="filaments.csv", meaning="filament in the barrel", empty="clean"
        ),
        Column(name="extruder_kg_h", kind=Kind.NUMBER, unit="kg/h", meaning="limit of the extruder"),
        Column(name="start_up_min", kind=Kind.INTEGER, unit="min", meaning="start to first spool", empty="15"),
        Column(name="scrap_share", kind=Kind.NUMBER, unit="share", meaning="scrapped of what is wound", empty="0.02"),
        Column(
            name="availability", kind=Kind.NUMBER, unit="share", meaning="share of the time that it runs", empty="0.9"
        ),
        Column(name="runs_unattended", kind=Kind.YES_NO, meaning="a started run may go on without a shift", empty="no"),
        Column(name="is_active", kind=Kind.YES_NO, meaning="in use", empty="yes"),
    ),
    sentences={
        "line_limit_positive": ("extruder_kg_h", text("must be above 0.")),
        "line_scrap_range": ("scrap_share", text("must be at least 0 and below 1.")),
        "line_availability_range": ("availability", text("must be above 0 and at most 1.")),
    },
)

LINE_SPEEDS = FileSchema(
    name="line_speeds.csv",
    meaning="A line that can make a filament, and how fast. No row: the line cannot make it.",
    key=("line", "filament"),
    columns=(
        Column(name="line", kind=Kind.TEXT, refers_to="lines.csv", meaning="the line"),
        Column(name="filament", kind=Kind.TEXT, refers_to="filaments.csv", meaning="the filament"),
        Column(name="speed_m_min", kind=Kind.NUMBER, unit="m/min", meaning="speed of the strand"),
        Column(name="strands", kind=Kind.INTEGER, meaning="strands at once", empty="1"),
    ),
    sentences={"linespeed_positive": ("speed_m_min", text("speed and strands must be above 0."))},
)

CHANGEOVERS = FileSchema(
    name="changeovers.csv",
    meaning="Minutes and purge of one pair where the plant knows better than the general rule.",
    key=("line", "from_filament", "to_filament"),
    is_required=False,
    absent="the general rule of the parameters holds for every pair",
    columns=(
        Column(name="line", kind=Kind.TEXT, refers_to="lines.csv", meaning="the line", empty="every line"),
        Column(name="from_filament", kind=Kind.TEXT, refers_to="filaments.csv", meaning="in the barrel before"),
        Column(name="to_filament", kind=Kind.TEXT, refers_to="filaments.csv", meaning="made after"),
        Column(name="minutes", kind=Kind.INTEGER, unit="min", meaning="the changeover takes"),
        Column(name="purge_kg", kind=Kind.NUMBER, unit="kg", meaning="purged"),
    ),
    sentences={
        "changeover_purge_not_negative": ("purge_kg", text("must not be negative.")),
        "changeover_two_filaments": ("to_filament", text("is the same as from_filament.")),
    },
)

DRYERS = FileSchema(
    name="dryers.csv",
    meaning="A resin dryer.",
    key=("code",),
    is_required=False,
    absent="no resin dryers",
    columns=(
        code("own code of the dryer"),
        Column(name="name", kind=Kind.TEXT, meaning="name for people"),
    ),
)

HOPPERS = FileSchema(
    name="hoppers.csv",
    meaning="A drying hopper: one material at a time, cleaned between two materials.",
    key=("code",),
    is_required=False,
    absent="no drying hoppers",
    columns=(
        code("own code of the hopper"),
        Column(name="dryer", kind=Kind.TEXT, refers_to="dryers.csv", meaning="the dryer it belongs to"),
        Column(name="capacity_kg", kind=Kind.NUMBER, unit="kg", meaning="resin that it holds"),
        Column(name="is_continuous", kind=Kind.YES_NO, meaning="refilled while it feeds the line", empty="no"),
        Column(name="clean_min", kind=Kind.INTEGER, unit="min", meaning="cleaning between two materials", empty="20"),
        Column(
            name="holds_material", kind=Kind.TEXT, refers_to="materials.csv", meaning="what is in it", empty="empty"
        ),
        Column(name="dried_since", kind=Kind.INSTANT, meaning="drying of its content began", empty="not drying"),
    ),
    sentences={"hopper_capacity_positive": ("capacity_kg", text("must be above 0."))},
)

OVENS = FileSchema(
    name="ovens.csv",
    meaning="An oven that dries wound spools, one temperature a load.",
    key=("code",),
    is_required=False,
    absent="no ovens: only spools with 0 drying hours can reach the shelf",
    columns=(
        code("own code of the oven"),
        Column(name="name", kind=Kind.TEXT, meaning="name for people"),
        Column(name="places", kind=Kind.INTEGER, unit="places", meaning="spools of one place that fit in"),
        Column(name="temperature_c", kind=Kind.INTEGER, unit="deg C", meaning="temperature of its usual load"),
    ),
    sentences={"oven_places_positive": ("places", text("must be above 0."))},
)

CARTS = FileSchema(
    name="carts.csv",
    meaning="A cart or a stack of trays with a bar code, on which spools move through oven and packing.",
    key=("code",),
    is_required=False,
    absent="no carts: ovens are loaded by lot and number of spools",
    columns=(code("what its bar code says"),),
)

SHIFTS = FileSchema(
    name="shifts.csv",
    meaning="A window of local time in which a line may work.",
    key=("line", "weekday", "start"),
    columns=(Column(name="line", kind=Kind.TEXT, refers_to="lines.csv", meaning="the line"), WEEKDAY, START, END),
)

CREWS = FileSchema(
    name="crews.csv",
    meaning="A window in which people can make changeovers.",
    key=("weekday", "start"),
    columns=(
        WEEKDAY,
        START,
        END,
        Column(name="size", kind=Kind.INTEGER, unit="changeovers", meaning="changeovers that they make at once"),
    ),
    sentences={"crew_size_positive": ("size", text("must be above 0."))},
)

CALENDAR_FILES = (PARAMETERS, WORK_DAYS, CLOSURES)
LINE_FILES = (LINES, LINE_SPEEDS, CHANGEOVERS, DRYERS, HOPPERS, OVENS, CARTS, SHIFTS, CREWS)
