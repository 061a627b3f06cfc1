"""Plans of runs keep their history: append-only and audited."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from django.db import IntegrityError, connection, transaction

from inventory.models import Line, Run, RunOutput, RunOutputPlan, RunPlan
from inventory.selectors.check import check_books
from inventory.selectors.run_rows import run_rows
from inventory.services.run_plans import note_run_plan
from inventory.services.runs import reschedule_run, resize_run
from tests.inventory.books.floor import KG, QUARTER, released
from tests.inventory.builders import clock, local
from tests.inventory.undoing import undone

WRONG_DAY = date(2027, 3, 9)

pytestmark = pytest.mark.django_db


def test_moved_run_keeps_its_earlier_plan(stores):
    run = released()
    times = {"planned_start": local("2027-03-02 08:00"), "planned_end": local("2027-03-02 14:00")}
    reschedule_run(run_code=run.code, clock=clock("2027-03-01 07:30"), **times)
    noted = list(RunPlan.objects.order_by("id").values_list("planned_start", "known_at"))
    assert noted == [
        (local("2027-03-01 08:00"), local("2027-03-01 07:00")),
        (local("2027-03-02 08:00"), local("2027-03-01 07:30")),
    ]


def test_resized_run_notes_only_the_sizes_that_change(stores):
    run = released()
    resize_run(run_code=run.code, spools={KG: 30, QUARTER: 20}, clock=clock("2027-03-01 07:30"))
    later = RunOutputPlan.objects.filter(known_at=local("2027-03-01 07:30"))
    assert list(later.values_list("run_output__sku__item__code", "planned")) == [(KG, 30)]


def test_size_that_is_named_with_no_spools_does_not_join_the_run(stores):
    run = released(spools={KG: 40})
    resize_run(run_code=run.code, spools={QUARTER: 0}, clock=clock("2027-03-01 07:30"))
    assert RunOutput.objects.get().sku.item.code == KG


@pytest.mark.parametrize("table", ["inventory_runplan", "inventory_runoutputplan"])
def test_noted_plan_is_never_changed(stores, table):
    released()
    with pytest.raises(IntegrityError, match="never_changes"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(f"UPDATE {table} SET known_at = occurred_at")


@pytest.mark.parametrize(
    ("planted", "about"),
    [
        (lambda: Run.objects.update(planned_end=local("2027-03-01 15:00")), ""),
        (lambda: RunOutput.objects.filter(sku__item__code=KG).update(shelf_day=WRONG_DAY), f", {KG}"),
        (lambda: RunPlan.objects.all().delete(), ""),
    ],
)
def test_audit_names_a_plan_that_moved_without_a_note(stores, planted, about):
    run = released()
    with undone():
        planted()
        faults = check_books()
    assert [(fault.rule, fault.subject) for fault in faults] == [("plan_is_noted", f"run {run.code}{about}")]


def test_runs_of_a_line_are_those_that_it_was_to_make_then(stores):
    run = released(changeover_min=Decimal(30))
    other = Line.objects.create(
        code="L2", name="Line 2", extruder_kg_h=9, start_up_min=5, scrap_share=0, availability=1
    )
    moved = Run.objects.get(pk=run.pk)
    moved.line, moved.changeover_min = other, Decimal(12)
    moved.save()
    note_run_plan(moved, clock=clock("2027-03-01 07:30"))
    then, now = local("2027-03-01 07:15"), local("2027-03-01 07:45")
    told = [(row.line_code, row.changeover_min) for at in (then, now) for row in run_rows(as_of=at, limit=9)]
    assert told == [("L1", 30), ("L2", 12)]
    on = [(line, len(run_rows(as_of=at, line_code=line, limit=9))) for at in (then, now) for line in ("L1", "L2")]
    assert on == [("L1", 1), ("L2", 0), ("L1", 0), ("L2", 1)]
    assert check_books() == []
