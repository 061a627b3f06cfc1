"""A plant of one line and three SKUs as a folder of CSV files, for tests.

Two colours on one material and one diameter: STONE on 1 kg, SNOW on 1 kg and 250 g. Ship days are Monday to
Friday, cut-off 13:40, pick-up 16:00, overnight oven from 18:00, packed from 06:00, shelved by 09:00. No public
holidays. All figures are invented; the GTINs carry the demonstration prefix 952.
"""

from __future__ import annotations

from pathlib import Path

SMALL_PLANT: dict[str, str] = {
    "parameters.csv": """\
key,value
name,Lowmeadow Filament Works
time_zone,Europe/Berlin
holiday_country,
holiday_subdivision,
target_share,0.97
holding_rate_per_year,0.2
review_days,5
line_hour_cost,40
min_run_minutes,30
mass_tolerance_share,0.02
material_change_min,60
diameter_change_min,25
colour_change_min,12
darker_to_lighter_min,0.5
purge_kg_per_hour,8
order_target_share,
search_moves,0
moved_run_price,2
currency,CHF
""",
    "work_days.csv": """\
weekday,cut_off,pick_up,oven_load_at,pack_from,shelf_ready,pack_spools
0,13:40,16:00,18:00,06:00,09:00,120
1,13:40,16:00,18:00,06:00,09:00,120
2,13:40,16:00,18:00,06:00,09:00,120
3,13:40,16:00,18:00,06:00,09:00,120
4,13:40,16:00,18:00,06:00,09:00,120
""",
    "closures.csv": """\
day,reason
2027-05-14,bridge day
""",
    "items.csv": """\
code,name,kind,unit,lead_time_days,pack_size,supplier_minimum
BOX-S,Small box,box,piece,7,,0
CON-SNOW,Concentrate snow,concentrate,kg,14,,0
CON-STONE,Concentrate stone,concentrate,kg,14,,0
EMPTY-1000,Empty spool 1 kg,spool_part,piece,10,,0
EMPTY-250,Empty spool 250 g,spool_part,piece,10,,0
RESIN-PLA,PLA resin,resin,kg,14,25,500
SILICA-5,Desiccant bag 5 g,desiccant,piece,7,,0
""",
    "materials.csv": """\
code,name,density_g_cm3,resin_item,resin_dry_min_c,resin_dry_max_c,resin_dry_hours,dried_keeps_hours,\
spool_dry_min_c,spool_dry_max_c,spool_dry_hours
PLA,PLA,1.24,RESIN-PLA,60,80,4,24,45,55,6
""",
    "colours.csv": """\
code,name,hex,lab_l,concentrate_item,let_down_share
SNOW,Snow,#F4F6F8,96.78,CON-SNOW,0.03
STONE,Stone,#5A5F66,40.05,CON-STONE,0.02
""",
    "diameters.csv": """\
nominal_mm,tolerance_mm
1.75,0.03
""",
    "spool_sizes.csv": """\
code,net_g,give_away_g,tare_g,spool_part,box_item,desiccant_item,max_temp_c,oven_places
G250,250,2,90,EMPTY-250,BOX-S,,60,0.5
KG1,1000,5,230,EMPTY-1000,BOX-S,SILICA-5,60,1
""",
    "filaments.csv": """\
code,material,colour,diameter
PLA-SNOW-175,PLA,SNOW,1.75
PLA-STONE-175,PLA,STONE,1.75
""",
    "skus.csv": """\
code,name,gtin,filament,spool_size,is_stocked,value,active_from,active_to,shelf_place
PLA-SNOW-175-1000,PLA Snow 1.75 mm 1 kg,9520000000028,PLA-SNOW-175,KG1,yes,9.5,2026-01-05,,A-02
PLA-SNOW-175-250,PLA Snow 1.75 mm 250 g,9520000000035,PLA-SNOW-175,G250,no,4,2026-01-05,,
PLA-STONE-175-1000,PLA Stone 1.75 mm 1 kg,9520000000011,PLA-STONE-175,KG1,yes,9,2026-01-05,,A-01
""",
    "lines.csv": """\
code,name,holds,extruder_kg_h,start_up_min,scrap_share,availability,runs_unattended,is_active
L1,Line 1,PLA-STONE-175,14,15,0.02,0.9,no,yes
""",
    "line_speeds.csv": """\
line,filament,speed_m_min,strands
L1,PLA-SNOW-175,55,1
L1,PLA-STONE-175,55,1
""",
    "changeovers.csv": """\
line,from_filament,to_filament,minutes,purge_kg
L1,PLA-STONE-175,PLA-SNOW-175,45,6
""",
    "dryers.csv": """\
code,name
D1,Dryer 1
""",
    "hoppers.csv": """\
code,dryer,capacity_kg,is_continuous,clean_min,holds_material,dried_since
H1,D1,150,yes,20,PLA,
""",
    "ovens.csv": """\
code,name,places,temperature_c
OVEN-1,Oven 1,80,50
""",
    "carts.csv": """\
code
CART-1
CART-2
""",
    "shifts.csv": """\
line,weekday,start,end
L1,0,06:00,22:00
L1,1,06:00,22:00
L1,2,06:00,22:00
L1,3,06:00,22:00
L1,4,06:00,22:00
""",
    "crews.csv": """\
weekday,start,end,size
0,06:00,22:00,1
1,06:00,22:00,1
2,06:00,22:00,1
3,06:00,22:00,1
4,06:00,22:00,1
""",
    "channels.csv": """\
code,name,hides_unavailable
SHOP,Web shop,yes
WORKS,Own use of the works,no
""",
    "opening_stock.csv": """\
item,place,lot,supplier_lot,quantity
RESIN-PLA,resin_store,R-1001,SUP-77,900
RESIN-PLA,resin_store,R-1002,SUP-78,771.125
CON-SNOW,resin_store,C-2001,,60
CON-STONE,resin_store,C-2002,,60
EMPTY-1000,resin_store,E-3001,,400
EMPTY-250,resin_store,E-3002,,200
BOX-S,resin_store,B-4001,,600
PLA-STONE-175-1000,shelf,S-5001,,12
PLA-STONE-175-1000,shelf,S-5002,,8
PLA-SNOW-175-1000,shelf,S-5003,,5
PLA-STONE-175-1000,wound,S-5004,,4
PLA-SNOW-175-1000,hold,S-5005,,2
SILICA-5,resin_store,D-4002,,600
""",
    "orders.csv": """\
channel,reference,kind,received_at,wanted_day,due_day,may_part_ship,ship_to,line_no,sku,quantity,shipped,shipped_day,\
cancelled_by,cancelled_at,quoted_day
SHOP,1001,regular,2027-02-22T09:15:00Z,,,no,,1,PLA-STONE-175-1000,2,,2027-02-22,,,
SHOP,1001,regular,2027-02-22T09:15:00Z,,,no,,2,PLA-SNOW-175-1000,1,,2027-02-22,,,
SHOP,1002,regular,2027-02-22T12:40:00Z,,,no,,1,PLA-STONE-175-1000,3,,2027-02-23,,,
WORKS,7,own_use,2027-02-24T08:00:00Z,,,yes,,1,PLA-STONE-175-1000,1,,2027-02-24,,,
SHOP,1003,regular,2027-02-25T10:00:00Z,,,no,,1,PLA-SNOW-175-1000,1,,,customer,2027-02-25T11:30:00Z,
SHOP,1004,regular,2027-02-26T14:05:00Z,,,no,"Yard 4, Lowmeadow",1,PLA-SNOW-175-1000,4,,,,,
SHOP,1005,project,2027-02-26T15:00:00Z,2027-03-12,,yes,,1,PLA-STONE-175-1000,15,5,,,,
""",
}


def write_small_plant(path: Path) -> Path:
    """Write the small plant into the folder `path` (made if missing) and return it.

    Its newest order arrived on Friday 2027-02-26 at 15:00 UTC; load it as of Monday 2027-03-01 07:00 UTC.
    """
    path.mkdir(parents=True, exist_ok=True)
    for name, text in SMALL_PLANT.items():
        (path / name).write_text(text, encoding="utf-8", newline="")
    return path


def replace_in(path: Path, old: str, new: str) -> None:
    """Replace one piece of text of a file that must hold it, to plant a fault."""
    text = path.read_text(encoding="utf-8")
    if text.count(old) != 1:
        raise ValueError(f"{path.name} holds {old!r} {text.count(old)} times, not once.")
    path.write_text(text.replace(old, new), encoding="utf-8", newline="")
