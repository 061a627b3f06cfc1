"""Floor reports over the API, on the tiny plant. Masses and times by hand beside each check.

Tiny plant: spools of PLA dry 6 h, one oven of 60 places at 50 degrees, packing from 06:00, concentrate 2 %.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from inventory.models import Balance, Line, Movement, Run, ShelfStock, Shipment
from inventory.services.runs import release_run
from tests.api.calls import get, order, post, put_on_shelf
from tests.inventory.builders import clock, local

BLACK = "PLA-BLACK-1000"
START = "2027-03-01T08:00:00+01:00"
FINISH = "2027-03-01T12:00:00+01:00"
OVEN = "2027-03-01T17:00:00+01:00"
PACK = "2027-03-02T07:00:00+01:00"


@pytest.fixture
def run(plant, replay):
    """A run of ten spools that is released for Monday, 08:00 to 12:00, with material in the store."""
    for item, quantity in (("RESIN-PLA", 500), ("MB-BLACK", 20), ("SPOOL-S1000", 100), ("BOX-S1000", 100)):
        receive(replay, item, quantity)
    return release_run(
        filament_code=plant.black.code,
        line_code=plant.line.code,
        spools={BLACK: 10},
        planned_start=local("2027-03-01 08:00"),
        planned_end=local("2027-03-01 12:00"),
        clock=clock("2027-03-01 07:00"),
    ).code


def receive(client, item, quantity, status=201, lot=None):
    return post(
        client,
        "/receipts/",
        status,
        item=item,
        quantity=quantity,
        lot=lot or f"LOT-{item}",
        supplier_lot="S-1",
        document="DN 4711",
        occurred_at="2027-03-01T06:30:00+01:00",
    )


def finish(client, run, status=200, **change):
    body = {"good": {BLACK: 10}, "scrap": {BLACK: 1}, "real_minutes": 240, "purge_kg": 0.5, "occurred_at": FINISH}
    post(client, f"/runs/{run}/start/", 200, occurred_at=START)
    return post(client, f"/runs/{run}/finish/", status, **(body | change))


def load(client, run, status=201, **change):
    body = {"oven": "O1", "spools": [{"source": run, "sku": BLACK, "quantity": 10}], "occurred_at": OVEN}
    return post(client, "/oven-loads/", status, **(body | change))


def test_run_is_read_by_code_and_by_id(plant, replay, run):
    by_code = get(replay, f"/runs/{run}/")
    assert (by_code["run"], by_code["state"], by_code["outputs"][0]["awaited"]) == (run, "released", 10)
    assert get(replay, f"/runs/{by_code['id']}/") == by_code


def test_runs_are_listed_and_filtered(plant, replay, run):
    assert [row["run"] for row in get(replay, "/runs/", state="released", line="L1")["results"]] == [run]
    assert get(replay, "/runs/", state="finished")["results"] == []
    assert get(replay, "/runs/", filament="PETG-NATURAL-1.75")["results"] == []


def test_started_run_fills_its_line(plant, replay, run):
    assert post(replay, f"/runs/{run}/start/", 200, occurred_at=START)["state"] == "started"
    assert Line.objects.get(code="L1").holds == plant.black


def test_start_with_resin_that_was_kept_too_long_says_what_to_do(plant, replay, run):
    Run.objects.update(drying_from=local("2027-02-28 03:59"))
    problem = post(replay, f"/runs/{run}/start/", 409, occurred_at=START)
    assert problem["code"] == "resin_kept_too_long"
    assert "Dry it again" in problem["detail"]
    again = post(replay, f"/runs/{run}/start/", 200, occurred_at=START, drying_from="2027-03-01T04:00:00+01:00")
    assert (again["state"], again["drying_from"]) == ("started", "2027-03-01T03:00:00Z")


@pytest.mark.parametrize("planned_end", ["9999-12-31T23:59:59Z", "2100-01-01T00:00:00Z"])
def test_run_cannot_move_beyond_any_calendar(replay, run, planned_end):
    times = {"planned_start": "2027-03-01T09:00:00+01:00", "planned_end": planned_end}
    problem = post(replay, f"/runs/{run}/reschedule/", 422, **times)
    assert problem["errors"][0]["pointer"] == "#/planned_end"


@pytest.mark.parametrize("step", ["start", "cancel"])
def test_run_does_nothing_before_its_release(replay, run, step):
    problem = post(replay, f"/runs/{run}/{step}/", 422, occurred_at="2027-03-01T06:59:59+01:00")
    assert problem["errors"][0]["pointer"] == "#/occurred_at"
    assert Run.objects.get().state == "released"


def test_count_of_resin_on_the_shelf_names_the_place(replay, run):
    problem = post(replay, "/counts/", 422, item="RESIN-PLA", place="shelf", counted=5, reason="cycle count")
    assert problem["errors"][0]["pointer"] == "#/place"


def test_shipment_that_names_a_line_twice_is_refused(plant, replay):
    put_on_shelf(replay, BLACK, 10)
    number = order(replay, "A-1", may_part_ship=True)["id"]
    rows = [{"line_no": 1, "quantity": 1}] * 2
    problem = post(replay, "/shipments/", 422, order=number, lines=rows, occurred_at="2027-03-01T15:00:00+01:00")
    assert problem["errors"][0]["pointer"] == "#/lines/1/line_no"
    assert not Shipment.objects.exists()


def test_receipt_of_nothing_names_the_field_that_was_sent(plant, replay):
    problem = receive(replay, "RESIN-PLA", 0, status=422)
    assert problem["errors"][0]["pointer"] == "#/quantity"
    assert not Movement.objects.exists()


def test_finished_run_has_its_masses(plant, replay, run):
    answer = finish(replay, run)
    # 10 good and 1 scrapped spool of 1 kg and 0.5 kg purged: 11.5 kg out, and the same drawn from the store.
    assert (answer["state"], answer["mass_out_kg"], answer["mass_in_kg"]) == ("finished", 11.5, 11.5)
    assert answer["is_mass_flagged"] is False
    assert answer["outputs"][0]["good"] == 10
    resin = Balance.objects.get(item__code="RESIN-PLA", place__kind="resin_store").quantity
    assert resin == Decimal("488.730")  # 500 - 11.5 x 0.98


def test_run_whose_weighed_resin_does_not_come_out_is_flagged(plant, replay, run):
    answer = finish(replay, run, resin_kg=13, concentrate_kg=0.26)
    assert (answer["mass_in_kg"], answer["mass_out_kg"], answer["is_mass_flagged"]) == (13.26, 11.5, True)


@pytest.mark.parametrize(
    ("status", "change", "pointer"),
    [
        (400, {"resin_kg": -1}, "#/resin_kg"),
        (400, {"concentrate_kg": "0.2"}, "#/concentrate_kg"),
        (422, {"good": {"NO-SUCH": 1}}, "#/good"),
        (422, {"good": {"PETG-NAT-1000": 1}}, "#/good/PETG-NAT-1000"),
        (400, {"good": {BLACK: -1}}, "#/good/PLA-BLACK-1000"),
        (400, {"good": {BLACK: 1.5}}, "#/good/PLA-BLACK-1000"),
        (400, {"good": [10]}, "#/good"),
        (400, {"purge_kg": -1}, "#/purge_kg"),
        (400, {"purge_kg": "1"}, "#/purge_kg"),
        (422, {"real_minutes": 0}, "#/real_minutes"),
        (422, {"occurred_at": "2027-03-01T07:59:00+01:00"}, "#/occurred_at"),
        (400, {"good_spools": 1}, "#/good_spools"),
    ],
)
def test_finish_that_breaks_a_rule_names_the_field_and_changes_nothing(replay, run, status, change, pointer):
    problem = finish(replay, run, status, **change)
    assert [error["pointer"] for error in problem["errors"]] == [pointer]
    assert Run.objects.get().state == "started"
    assert not Movement.objects.filter(kind="run_output").exists()


def test_run_that_has_not_started_cannot_finish(plant, replay, run):
    body = {"good": {BLACK: 1}, "real_minutes": 1, "purge_kg": 0}
    assert post(replay, f"/runs/{run}/finish/", 409, **body)["status"] == 409


@pytest.mark.parametrize("action", ["start", "cancel"])
def test_action_on_an_unknown_run_is_not_found(plant, replay, action):
    assert post(replay, f"/runs/R999999/{action}/", 404)["code"] == "run_not_found"


def test_cancelled_run_takes_its_promise_back(plant, replay, run):
    placed = order(replay, "A-1", at=START)
    # Wound on Monday, dried overnight, packed on Tuesday morning.
    assert placed["ship_day"] == "2027-03-02"
    answer = post(replay, f"/runs/{run}/cancel/", 200, occurred_at=START)
    assert (answer["state"], answer["outputs"][0]["awaited"]) == ("cancelled", 0)
    assert get(replay, f"/orders/{placed['id']}/", as_of=START)["lines"][0]["unpromised"] == 3


def test_rescheduled_run_moves_its_promise(plant, replay, run):
    placed = order(replay, "A-1", at=START)
    times = {"planned_start": "2027-03-03T08:00:00+01:00", "planned_end": "2027-03-03T12:00:00+01:00"}
    answer = post(replay, f"/runs/{run}/reschedule/", 200, occurred_at=START, **times)
    assert answer["outputs"][0]["shelf_day"] == "2027-03-04"
    assert get(replay, f"/orders/{placed['id']}/")["ship_day"] == "2027-03-04"


def test_run_cannot_end_before_it_starts(plant, replay, run):
    times = {"planned_start": "2027-03-03T08:00:00+01:00", "planned_end": "2027-03-03T07:00:00+01:00"}
    problem = post(replay, f"/runs/{run}/reschedule/", 422, occurred_at=START, **times)
    assert problem["errors"][0]["pointer"] == "#/planned_end"


def test_oven_load_says_when_it_is_dry(plant, replay, run):
    finish(replay, run)
    answer = load(replay, run)
    assert (answer["oven"], answer["temperature_c"], answer["hours"]) == ("O1", 50, 6.0)
    assert answer["ready_at"] == "2027-03-01T22:00:00Z"  # 17:00+01:00 and 6 h
    assert [(row["item"], row["quantity"]) for row in answer["spools"]] == [(BLACK, 10.0)]


@pytest.mark.parametrize(
    ("status", "change", "pointer"),
    [
        (422, {"oven": "O9"}, "#/oven"),
        (422, {"temperature_c": 56}, "#/spools/0"),  # the material allows 45 to 55 degrees
        (422, {"hours": 5}, "#/spools/0"),
        (422, {"spools": [{"source": "R999999", "sku": BLACK, "quantity": 1}]}, "#/spools/0/source"),
        (422, {"spools": [{"sku": "NO-SUCH", "quantity": 1}]}, "#/spools"),
        (400, {"spools": [{"sku": BLACK, "quantity": 0}]}, "#/spools/0/quantity"),
        (400, {"spools": []}, "#/spools"),
        (400, {"fan": 3}, "#/fan"),
    ],
)
def test_oven_load_that_breaks_a_rule_names_the_field(replay, run, status, change, pointer):
    finish(replay, run)
    problem = load(replay, run, status, **change)
    assert [error["pointer"] for error in problem["errors"]] == [pointer]
    assert not Movement.objects.filter(kind="oven_load").exists()


def test_packed_spools_lie_on_the_shelf_and_serve_who_waits(plant, replay, run):
    placed = order(replay, "A-1", at=START)
    finish(replay, run)
    load(replay, run)
    answer = post(replay, "/pack/", spools=[{"source": run, "sku": BLACK, "quantity": 10}], occurred_at=PACK)
    assert {(row["item"], row["to_place"]) for row in answer["lines"]} >= {(BLACK, "SHELF")}
    shelf = ShelfStock.objects.get(sku=plant.black_1kg)
    assert (shelf.on_shelf, shelf.allocated) == (10, 3)
    assert get(replay, f"/orders/{placed['id']}/")["lines"][0]["from_shelf"] == 3


def test_spools_that_are_still_drying_cannot_be_packed(plant, replay, run):
    finish(replay, run)
    load(replay, run)
    body = {"spools": [{"sku": BLACK, "quantity": 10}], "occurred_at": "2027-03-01T22:59:00+01:00"}
    problem = post(replay, "/pack/", 409, **body)
    assert problem["code"] == "not_enough_stock"
    assert not Movement.objects.filter(kind="pack").exists()


def test_receipt_says_where_the_lot_lies(plant, replay):
    answer = receive(replay, "RESIN-PLA", 771.125)
    assert (answer["item"], answer["supplier_lot"], answer["is_held"]) == ("RESIN-PLA", "S-1", False)
    assert [row["quantity"] for row in answer["places"]] == [771.125]


def test_receipt_of_an_unknown_item_is_refused(plant, replay):
    assert receive(replay, "RESIN-X", 5, 422)["errors"][0]["pointer"] == "#/item"


def test_receipt_of_nothing_is_refused(plant, replay):
    problem = receive(replay, "RESIN-PLA", 0, 422)
    assert "must be a number above 0" in problem["detail"]
    assert not Movement.objects.exists()


def test_count_that_agrees_moves_nothing(plant, replay):
    put_on_shelf(replay, BLACK, 4)
    answer = post(replay, "/counts/", item=BLACK, place="shelf", counted=4, reason="cycle", occurred_at=START)
    assert answer == {"movement": None}


def test_count_below_the_promises_moves_them(plant, replay):
    put_on_shelf(replay, BLACK, 4)
    placed = order(replay, "A-1", at=START)
    answer = post(replay, "/counts/", item=BLACK, place="shelf", counted=2, reason="cycle", occurred_at=START)
    assert answer["movement"]["lines"][0]["quantity"] == 2.0
    line = get(replay, f"/orders/{placed['id']}/", as_of=START)["lines"][0]
    assert (line["from_shelf"], line["unpromised"]) == (2, 1)


@pytest.mark.parametrize(
    ("status", "change", "pointer"),
    [
        (422, {"item": "NO-SUCH"}, "#/item"),
        (400, {"place": "customer"}, "#/place"),
        (400, {"counted": -1}, "#/counted"),
        (422, {"counted": 1.5}, "#/counted"),
        (422, {"lot": "NO-SUCH"}, "#/lot"),
        (400, {"reason": ""}, "#/reason"),
    ],
)
def test_count_that_breaks_a_rule_names_the_field(plant, replay, status, change, pointer):
    body = {"item": BLACK, "place": "shelf", "counted": 1, "reason": "cycle", "occurred_at": START}
    problem = post(replay, "/counts/", status, **(body | change))
    assert [error["pointer"] for error in problem["errors"]] == [pointer]
    assert not Movement.objects.exists()


def test_held_lot_leaves_the_store_and_comes_back(plant, replay):
    receive(replay, "RESIN-PLA", 5)
    held = post(replay, "/holds/", lot="LOT-RESIN-PLA", reason="damp", occurred_at=START)
    assert (held["is_held"], [row["place"] for row in held["places"]]) == (True, ["HOLD"])
    free = post(replay, "/holds/LOT-RESIN-PLA/release/", 200, reason="dried", occurred_at=START)
    assert (free["is_held"], [row["quantity"] for row in free["places"]]) == (False, [5.0])


def test_hold_of_an_unknown_lot_is_refused(plant, replay):
    assert post(replay, "/holds/", 422, lot="NO-SUCH", reason="damp")["errors"][0]["pointer"] == "#/lot"
    assert post(replay, "/holds/NO-SUCH/release/", 404, reason="dry")["status"] == 404


def test_run_is_read_as_of_an_instant_before_its_finish(plant, replay, run):
    finish(replay, run)
    load(replay, run)
    post(replay, "/pack/", spools=[{"sku": BLACK, "quantity": 10}], occurred_at=PACK)
    moments = {"2027-03-01T07:30:00+01:00": ("released", None, 10), "2027-03-01T09:00:00+01:00": ("started", None, 10)}
    moments |= {"2027-03-01T18:00:00+01:00": ("finished", 10, 10), "2027-03-02T08:00:00+01:00": ("finished", 10, 0)}
    for as_of, seen in moments.items():
        row = get(replay, f"/runs/{run}/", as_of=as_of)
        assert (row["state"], row["outputs"][0]["good"], row["outputs"][0]["awaited"]) == seen
    assert get(replay, f"/runs/{run}/", 404, as_of="2027-03-01T06:59:00+01:00")["code"] == "run_not_found"
    assert get(replay, "/runs/", as_of="2027-03-01T06:59:00+01:00")["results"] == []
    assert [row["run"] for row in get(replay, "/runs/", as_of=START, state="started")["results"]] == [run]


def test_run_is_read_as_of_with_the_promises_and_the_cancellation_known_then(plant, replay, run):
    order(replay, "A-1", at="2027-03-01T08:30:00+01:00")
    post(replay, f"/runs/{run}/cancel/", 200, occurred_at="2027-03-01T09:00:00+01:00")
    seen = []
    for hour in ("08:15", "08:45", "09:15"):
        row = get(replay, f"/runs/{run}/", as_of=f"2027-03-01T{hour}:00+01:00")
        seen.append((row["state"], row["outputs"][0]["awaited"], row["outputs"][0]["allocated"]))
    assert seen == [("released", 10, 0), ("released", 10, 3), ("cancelled", 0, 0)]
