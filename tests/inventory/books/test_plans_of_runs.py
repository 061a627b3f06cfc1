"""Plans of runs keep their history: append-only, audited, and filled for runs that were there before it."""

from __future__ import annotations

from datetime import date
from importlib import import_module

import pytest
from django.apps import apps
from django.db import IntegrityError, connection, transaction

from inventory.models import Run, RunOutput, RunOutputPlan, RunPlan
from inventory.selectors.check import check_books
from inventory.services.runs import reschedule_run, resize_run
from tests.inventory.books.floor import KG, QUARTER, finish, released, started
from tests.inventory.builders import clock, local
from tests.inventory.undoing import undone

WRONG_DAY = date(2027, 3, 9)

pytestmark = [pytest.mark.django_db, pytest.mark.database]


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


def test_runs_from_before_get_the_plan_that_stands(stores):
    # Planned: 40 spools of 1 kg at the release; the 250 g size joins at the finish.
    run = started()
    finish(run)
    unplanned = RunOutput.objects.get(sku__item__code=QUARTER)
    RunOutput.objects.filter(pk=unplanned.pk).update(planned=0)
    RunPlan.objects.all().delete()
    RunOutputPlan.objects.all().delete()
    import_module("inventory.migrations.0015_plans_of_runs").note_present_plans(apps, None)
    assert check_books() == []
    assert RunPlan.objects.get().known_at == local("2027-03-01 07:00")
    assert dict(RunOutputPlan.objects.values_list("planned", "known_at")) == {
        40: local("2027-03-01 07:00"),
        0: local("2027-03-01 14:00"),
    }
