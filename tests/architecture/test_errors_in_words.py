"""No error that somebody reads is out of a translator's reach: found in the source, whether or not a test raises it.

A rule error (`inventory.errors.RuleError`) takes a literal template with its values beside it; every other error that
is read takes what `gettext` or `text` gives. Left are errors that only who programs or operates the service sees.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SOURCES = [
    path
    for package in ("forecasting", "inventory", "stockplan")
    for path in sorted((ROOT / package).rglob("*.py"))
    if "migrations" not in path.parts
]
CLASS = re.compile(r"^class (\w+)\(([\w., ]+)\):", re.MULTILINE)
WORD = re.compile(r"[^\W\d_]{2}")
# Commands and what makes the invented plant speak English, as their help does.
OPERATORS = (
    "inventory/management/",
    "stockplan/access/management/",
    "stockplan/planner/management/",
    "stockplan/demo/",
)
OF_OPERATORS = {"CommandError", "ArgumentTypeError"}
# Answers without the text: the site's page for it, or the problem document of the API.
NOT_SHOWN = {"Http404", "SuspiciousOperation", "SuspiciousFileOperation"}
# Errors of whoever calls the function wrongly: a fault of the program, never of what somebody typed.
OF_PROGRAMMERS = {"TypeError", "TypingError", "ValueError"}
CALLED_BY_PROGRAMS_ALONE = (
    "forecasting/compiled/",
    "inventory/rules/allocation.py",
    "inventory/rules/clock.py",
    "inventory/rules/colour.py",
    "inventory/rules/conversion.py",
    "inventory/rules/diameter.py",
    "inventory/rules/net_mass.py",
    "inventory/rules/seals.py",
    "stockplan/api_versions.py",
    "stockplan/planner/core/",
    "stockplan/planner/pages/pictures.py",
    "stockplan/planner/selectors/line_orders.py",
)
# Where templates become texts.
WHERE_MADE = {"inventory/errors.py", "inventory/rules/texts.py"}
SPOKEN_FIELDS = {"default_detail", "default_error_messages"}


def rule_errors() -> set[str]:
    """Names of the classes that descend from `RuleError` or `ForecastingError`, which take a template as well."""
    bases = {name: above for path in SOURCES for name, above in CLASS.findall(path.read_text(encoding="utf-8"))}
    found, grown = {"RuleError", "ForecastingError"}, 0
    while len(found) > grown:
        grown = len(found)
        found |= {name for name, above in bases.items() if found & set(re.split(r"\W+", above))}
    return found


# That of a file is made of the texts of its faults.
RULE_ERRORS = rule_errors() - {"PlantFileError"}


def is_plain(node: ast.expr) -> bool:
    """Whether an expression is a text with words that nothing translates."""
    if isinstance(node, ast.BinOp):
        return is_plain(node.left)
    if isinstance(node, ast.Dict):
        return any(is_plain(value) for value in node.values)
    texts = node.values if isinstance(node, ast.JoinedStr) else [node]
    return any(isinstance(one, ast.Constant) and isinstance(one.value, str) and WORD.search(one.value) for one in texts)


def is_template(node: ast.expr) -> bool:
    """Whether it is a literal, or one of a table of literals."""
    is_of_table = isinstance(node, ast.Subscript) and isinstance(node.value, ast.Name) and node.value.id.isupper()
    return isinstance(node, ast.Constant) or is_of_table


def untranslated(source: str, *, path: str) -> Iterator[str]:
    """Texts of errors that translators are not given, and templates of rule errors that no tool can read."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Call):
            name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            if name in RULE_ERRORS or name == "text":
                yield from (ast.unparse(one) for one in node.args if not is_template(one))
            elif re.search(r"(Error|ErrorDetail|Failed|Denied|Operation|404)$", name) and not is_free(name, path):
                yield from (ast.unparse(one) for one in node.args[:1] if is_plain(one))
            elif name == "add_error" or (name == "add" and len(node.args) == 3):
                yield from (ast.unparse(one) for one in node.args[-1:] if is_plain(one))
        elif (
            isinstance(node, ast.Assign)
            and getattr(node.targets[0], "id", "") in SPOKEN_FIELDS
            and is_plain(node.value)
        ):
            yield ast.unparse(node.value)


def is_free(name: str, path: str) -> bool:
    if path.startswith(OPERATORS):
        return True
    return name in NOT_SHOWN | OF_OPERATORS or (name in OF_PROGRAMMERS and path.startswith(CALLED_BY_PROGRAMS_ALONE))


def test_no_error_bypasses_translation() -> None:
    named = {path.relative_to(ROOT).as_posix(): path.read_text(encoding="utf-8") for path in SOURCES}
    found = {path: list(untranslated(source, path=path)) for path, source in named.items() if path not in WHERE_MADE}
    assert {path: texts for path, texts in found.items() if texts} == {}


def test_errors_of_books_plan_calendar_and_cells_are_rule_errors() -> None:
    assert {
        "BooksError",
        "NotFoundError",
        "PlanningError",
        "RunOrderError",
        "CalendarError",
        "CellError",
    } <= RULE_ERRORS


@pytest.mark.parametrize(
    "source",
    [
        'raise NotFoundError(f"There is no lot {code}.")',
        'raise NotFoundError("There is no lot " + code)',
        'raise HorizonError(f"got {horizon}")',
        "raise NotFoundError(words)",
        'raise ValidationError("The code is in use.")',
        'raise forms.ValidationError("The file has %d bytes" % size)',
        'return [ErrorDetail("Give it once.", "repeated")]',
        'form.add_error(None, f"{name} is there")',
        'faults.add(line, "sku", "must be filled.")',
        'faults.add(line, "sku", text(f"{name} must be filled."))',
        'raise ValueError("The workbook has no sheet.")',
        'default_detail = "The body is too long."',
        'default_error_messages = {"naive": "Give the offset."}',
    ],
)
def test_text_that_bypasses_translation_is_found(source: str) -> None:
    assert len(list(untranslated(source, path="inventory/admin/uploads.py"))) == 1


@pytest.mark.parametrize(
    "source",
    [
        'raise NotFoundError("There is no lot {code}.", code=code, pointer=f"/lots/{code}")',
        "raise WhatIfError(_NOT_THERE[name], code=code)",
        'raise ValidationError(_("The code %(code)s is in use."), params={"code": code})',
        'raise ValueError(text("The net mass is {g} g.", g=g))',
        "raise Http404(str(error))",
    ],
)
def test_text_that_translators_are_given_passes(source: str) -> None:
    assert list(untranslated(source, path="inventory/admin/uploads.py")) == []
