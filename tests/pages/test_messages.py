"""Messages: said in English and in the reader's language, kept as template and values, taken over from older texts."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from zoneinfo import ZoneInfo

import pytest
from django.core.management import call_command
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.utils import translation

from forecasting.errors import DemandTableError, HorizonError
from forecasting.messages import Message, counted, message
from forecasting.methods.candidates import CHOSEN, NONE, RECENT_PAST, candidates_for, words_of
from inventory.errors import RuleError
from inventory.rules.texts import text
from stockplan.api_errors import BrokenRuleError
from stockplan.planner.models import NotListed
from stockplan.planner.wording import kept, method_said, rule_said, said
from tests.pages.conftest import CLOSE, OPEN
from tests.pages.shown_plant import ShownPlant, build_shown_plant

FRIDAY = datetime(2027, 3, 5, 13, 40, tzinfo=ZoneInfo("Europe/Paris"))
RUN = message("{filament} from {day}", filament="PLA-X", day=date(2027, 3, 1))
EVERY_KIND = counted(
    "{n} spool, {share:.1%}, {kg:.2f} kg, {least:g}, at {at}: {run}; {parts}",
    "{n} spools, {share:.1%}, {kg:.2f} kg, {least:g}, at {at}: {run}; {parts}",
    n=2,
    share=0.125,
    kg=1234.5,
    least=0.5,
    at=FRIDAY,
    run=RUN,
    parts=(message("{n} of A", n=1), "B", "C"),
)


def test_message_is_english_without_django() -> None:
    assert str(EVERY_KIND) == (
        "2 spools, 12.5%, 1234.50 kg, 0.5, at Fri 5 Mar 13:40: PLA-X from Mon 1 Mar; 1 of A, B and C"
    )


@pytest.mark.parametrize(("n", "words"), [(0, "0 runs"), (1, "1 run"), (2, "2 runs")])
def test_template_follows_the_number(n: int, words: str) -> None:
    assert str(counted("{n} run", "{n} runs", n=n)) == words


def test_message_is_said_with_the_days_and_numbers_of_the_reader(german: None) -> None:
    # Unicode CLDR 46, de: comma before decimals, a no-break space before the per cent sign, Mo, Fr, Mär.
    with translation.override("de"):
        assert said(EVERY_KIND) == (
            "2 Spulen, 12,5\N{NO-BREAK SPACE}%, 1234,50 kg, 0,5, um Fr 5. Mär 13:40: PLA-X ab Mo 1. Mär; "
            "1 of A, B und C"
        )
        assert said(counted("{n} run", "{n} runs", n=1)) == "1 Lauf"


def test_message_with_braces_among_its_values_says_them() -> None:
    assert str(message("{code} is late", code="{day}")) == "{day} is late"


def test_message_comes_back_from_the_database_as_it_was(shown: ShownPlant) -> None:
    NotListed.objects.update(sentence=EVERY_KIND)
    assert NotListed.objects.get().sentence == EVERY_KIND


@pytest.mark.alone
@pytest.mark.django_db(transaction=True)
def test_texts_of_older_lists_become_messages_and_go_back(older: None) -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT sentence FROM planner_notlisted")
        assert cursor.fetchall() == [("Free stock lasts for five more weeks.",)]
        cursor.execute("UPDATE planner_notlisted SET sentence = 'An {old} text of 100%.'")
        cursor.execute("""UPDATE planner_makelist SET "limit" = ''""")
    call_command("migrate", verbosity=0)
    row = NotListed.objects.select_related("make_list").get()
    assert str(row.sentence) == "An {old} text of 100%."
    assert row.make_list.limit is None
    assert [str(one) for one in row.make_list.assumptions] == ["Lines are available 90% of their shifts."]


@pytest.fixture
def older() -> Iterator[None]:
    """A list, in the tables as they were before."""
    build_shown_plant()
    MigrationExecutor(connection).migrate([("planner", "0015_places_of_pins")])
    yield
    call_command("migrate", verbosity=0)


@pytest.mark.parametrize("template", [Message("{only", {}), Message("{absent}", {})])
def test_template_that_its_values_do_not_fill_is_an_error(template: Message) -> None:
    with pytest.raises((ValueError, KeyError)):
        str(template)


def test_error_of_a_forecast_is_english_as_it_is_raised_and_said_to_its_reader(pseudo: None) -> None:
    error = DemandTableError("row {row}, column {column!r}: {says}", row=4, column="A", says=message("occurs twice"))
    assert (str(error), error.row, error.column) == ("row 4, column 'A': occurs twice", 4, "A")
    assert rule_said(error) == f"{OPEN}row {CLOSE}4{OPEN}, column {CLOSE}'A': {OPEN}occurs twice{CLOSE}"


def test_problem_document_says_an_error_of_the_forecast_in_the_language_asked_for(pseudo: None) -> None:
    refused = BrokenRuleError(HorizonError("horizons must be whole numbers >= 1; got {horizons!s}", horizons=[0]))
    assert (refused.status_code, str(refused.detail)) == (
        409,
        f"{OPEN}horizons must be whole numbers >= 1; got {CLOSE}[0]",
    )


def test_every_method_of_the_forecast_has_words(pseudo: None) -> None:
    names = [method.name for method in candidates_for(has_season=True, has_orders=True)]
    for name in (*names, RECENT_PAST, CHOSEN, NONE):
        assert str(words_of(name)) != name
        assert OPEN in method_said(name)
    # What older code called a method stands as it was stored.
    assert method_said("all kin") == "all kin"


def test_broken_rule_that_is_kept_is_a_message_with_those_within_it() -> None:
    rule = RuleError("{what} before {day}.", what=text("{n} spool", "{n} spools", n=2), day=date(2027, 3, 1))
    message_of = kept(rule)
    assert message_of.values["what"] == counted("{n} spool", "{n} spools", n=2)
    # As a rule writes days: as one would have to type them.
    assert str(message_of) == str(rule) == "2 spools before 2027-03-01."
