"""The replay from the books: forecasts as of each morning, no leakage, the command."""

from __future__ import annotations

import csv
from datetime import date, timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from inventory.rules.order_draft import OrderDraft
from inventory.services.orders import place_order
from stockplan.planner.core.replay.policies import MakeListPolicy
from stockplan.planner.core.replay.records import DayRecord
from stockplan.planner.core.replay.simulation import replay
from stockplan.planner.selectors.stored_replays import past_replays
from stockplan.planner.services.replay import StretchError, prepare_replay
from tests.inventory.builders import TinyPlant, late, local
from tests.planner.conftest import order

FIRST, LAST = date(2027, 3, 15), date(2027, 3, 26)
NOW = local("2027-06-01 08:00")
SPIKE_KNOWN = date(2027, 3, 24)


@pytest.fixture
def sold(plant: TinyPlant) -> TinyPlant:
    """Six weeks in which two spools of black are ordered every morning."""
    for n in range(40):
        day = date(2027, 2, 15) + timedelta(days=n)
        if day.weekday() < 5:
            order(f"DAY-{n}", [("PLA-BLACK-1000", 2)], at=f"{day} 08:00")
    return plant


def _records(*, policy: MakeListPolicy | None = None) -> tuple[DayRecord, ...]:
    prepared = prepare_replay(first_day=FIRST, last_day=LAST, now=NOW)
    return replay(prepared.stretch, policy or MakeListPolicy(), forecast_of=prepared.forecasts)


def _before(day: date, records: tuple[DayRecord, ...]) -> list[DayRecord]:
    return [record for record in records if record.day < day]


def test_replay_makes_and_ships_what_was_ordered(sold: TinyPlant) -> None:
    records = _records()
    assert sum(r.orders.due for r in records) == 10
    assert sum(r.use.runs for r in records) > 0
    assert all(r.orders.kept == 1 for r in records[5:])


def test_future_spike_changes_nothing_before_it_was_known(sold: TinyPlant) -> None:
    before = _records()
    order("SPIKE", [("PLA-BLACK-1000", 60), ("PETG-NAT-1000", 40)], at=f"{SPIKE_KNOWN} 08:00", wanted="2027-03-26")
    after = _records()
    assert _before(SPIKE_KNOWN, after) == _before(SPIKE_KNOWN, before)
    assert after != before


def test_late_posting_changes_nothing_before_it_was_known(sold: TinyPlant) -> None:
    before = _records()
    draft = OrderDraft(channel_code="WEB", reference="LATE", lines=[("PLA-BLACK-1000", 60)], wanted_day=None)
    # It arrived on the first day of the replay and would have moved every forecast of it.
    place_order(body=draft, clock=late(f"{FIRST} 07:00", f"{SPIKE_KNOWN} 08:00"))
    after = _records()
    assert _before(SPIKE_KNOWN, after) == _before(SPIKE_KNOWN, before)
    assert after != before


def test_forecast_between_two_refreshes_reads_nothing_later_than_the_first(sold: TinyPlant) -> None:
    def wednesday() -> list[list[float]]:
        forecasts = prepare_replay(first_day=FIRST, last_day=LAST, now=NOW).forecasts
        return [forecasts(local(f"2027-03-{day} 06:00")).mean.tolist() for day in (15, 17)]

    before = wednesday()
    order("TUESDAY", [("PLA-BLACK-1000", 50)], at="2027-03-16 07:00")
    assert wednesday() == before


def test_replay_is_refused_when_the_stretch_cannot_be(plant: TinyPlant) -> None:
    with pytest.raises(StretchError, match="before the first"):
        prepare_replay(first_day=LAST, last_day=FIRST, now=NOW)
    with pytest.raises(StretchError, match="not over yet"):
        prepare_replay(first_day=FIRST, last_day=LAST, now=local("2027-03-26 17:00"))
    with pytest.raises(StretchError, match="No parcels leave"):
        prepare_replay(first_day=date(2027, 3, 13), last_day=date(2027, 3, 14), now=NOW)


def _printed(*arguments: str) -> str:
    out = StringIO()
    call_command("replay", "--from", str(FIRST), "--to", str(LAST), *arguments, stdout=out)
    return out.getvalue()


@pytest.fixture
def in_summer(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("stockplan.planner.management.commands.replay.timezone.now", lambda: NOW)


@pytest.mark.usefixtures("in_summer", "sold")
def test_command_prints_weeks_and_their_total() -> None:
    rows = list(csv.DictReader(StringIO(_printed("--format", "csv"))))
    assert [row["period"] for row in rows] == ["2027-W11", "2027-W12", "total"]
    assert [row["orders_due"] for row in rows] == ["5", "5", "10"]
    assert {row["currency"] for row in rows} == {"EUR"}


@pytest.mark.usefixtures("in_summer", "sold")
def test_command_keeps_what_it_prints_for_the_page() -> None:
    printed = list(csv.DictReader(StringIO(_printed("--format", "csv"))))
    (kept,) = past_replays()
    assert (kept.policy, kept.is_curve, kept.first_day, kept.last_day) == ("make-list", False, FIRST, LAST)
    assert [row.label for row in kept.rows] == [row["period"] for row in printed]
    assert [f"{row.totals.mean_stock_value:.0f}" for row in kept.rows] == [row["stock_value"] for row in printed]
    assert [str(row.totals.use.runs) for row in kept.rows] == [row["runs"] for row in printed]
    assert [f"{row.totals.units.share:.4f}" for row in kept.rows] == [row["units_share"] for row in printed]


@pytest.mark.usefixtures("in_summer", "sold")
def test_command_says_what_was_replayed_and_how() -> None:
    printed = " ".join(_printed("--policy", "reorder-point").split())
    assert "Policy: reorder points of mean + " in printed
    assert "stock EUR" in printed
    assert "Stock on the first morning: not in the books" in printed
    assert "forecast anew every 5 ship days; each list covers 2" in printed


@pytest.mark.usefixtures("in_summer", "sold")
def test_curve_has_more_stock_for_higher_factors() -> None:
    rows = list(csv.DictReader(StringIO(_printed("--policy", "reorder-point", "--curve", "--format", "csv"))))
    values = [float(row["stock_value"]) for row in rows]
    assert len(rows) >= 8
    assert values == sorted(values)
    assert values[0] < values[-1]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--stock-factor", "0"], "above 0 and at most 10"),
        (["--stock-factor", "much"], "write a factor"),
        (["--stock-factor", "1", "--curve"], "not allowed with"),
        (["--policy", "guess"], "invalid choice"),
    ],
)
def test_command_refuses_what_cannot_be(plant: TinyPlant, arguments: list[str], words: str) -> None:
    with pytest.raises(CommandError, match=words):
        _printed(*arguments)


@pytest.mark.usefixtures("plant")
def test_command_says_that_the_days_are_not_over() -> None:
    with pytest.raises(CommandError, match="not over yet"):
        call_command("replay", "--from", "2999-01-01", "--to", "2999-01-31", stdout=StringIO())
