"""Patterns that a text can keep busy for ever (ReDoS, CWE-1333).

A backtracking matcher takes exponential time only where a repeat without end stands inside another one and can match
the same text in several ways. No pattern of this project nests them at all; the lengths of texts are bounded beside.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from typing import Any

import pytest
from django.apps import apps
from django.conf import settings
from django.core.validators import RegexValidator

PARSER = re._parser  # type: ignore[attr-defined]  # the standard library's own reader of patterns
ENDLESS = PARSER.MAXREPEAT
MATCHERS = {"compile", "match", "fullmatch", "search", "sub", "split", "findall", "finditer"}
FIELDS = {"RegexField", "PatternField", "RegexValidator", "re_path"}


def _written() -> Iterator[str]:
    """Every pattern that stands as such in the code: in calls of `re`, of fields and validators, and as a constant."""
    for package in ("inventory", "forecasting", "stockplan"):
        for file in (settings.BASE_DIR / package).rglob("*.py"):
            tree = ast.parse(file.read_text(encoding="utf-8"))
            yield from (node.value.value for node in ast.walk(tree) if _is_named_pattern(node))
            yield from (text for node in ast.walk(tree) if isinstance(node, ast.Call) for text in _of_call(node))


def _is_named_pattern(node: ast.AST) -> bool:
    return (
        isinstance(node, ast.Assign)
        and isinstance(node.value, ast.Constant)
        and isinstance(node.value.value, str)
        and any(isinstance(name, ast.Name) and name.id.endswith("PATTERN") for name in node.targets)
    )


def _of_call(call: ast.Call) -> Iterator[str]:
    function = call.func
    is_re = isinstance(function, ast.Attribute) and function.attr in MATCHERS and ast.unparse(function.value) == "re"
    named = function.attr if isinstance(function, ast.Attribute) else getattr(function, "id", "")
    if (is_re or named in FIELDS) and call.args and isinstance(call.args[0], ast.Constant):
        yield str(call.args[0].value)


def _of_models() -> Iterator[str]:
    for model in apps.get_models():
        for field in model._meta.concrete_fields:
            yield from (one.regex.pattern for one in field.validators if isinstance(one, RegexValidator))


@pytest.fixture(scope="module")
def patterns() -> list[str]:
    """All of them; read when a test asks, else every worker of every stage would parse the code to list its tests."""
    return sorted({*_written(), *_of_models()})


def nested(pattern: str) -> list[str]:
    """Endless repeats inside of another one."""
    return [str(inner) for inner in _nested(PARSER.parse(pattern), is_inside=False)]


def _nested(tokens: Any, *, is_inside: bool) -> Iterator[Any]:
    for kind, value in tokens:
        name = str(kind)
        if name in ("MAX_REPEAT", "MIN_REPEAT"):
            _low, high, body = value
            is_endless = high == ENDLESS
            if is_endless and is_inside:
                yield value
            yield from _nested(body, is_inside=is_inside or is_endless)
        elif name == "SUBPATTERN":
            yield from _nested(value[3], is_inside=is_inside)
        elif name == "BRANCH":
            for branch in value[1]:
                yield from _nested(branch, is_inside=is_inside)


def test_there_are_patterns_to_look_at(patterns: list[str]) -> None:
    assert len(patterns) > 20


@pytest.mark.parametrize("pattern", ["(a+)+", "([a-z]*)*$", "^(a|b+)*$", "((ab)*c*)+", r"(\s*\w+\s*)*"])
def test_the_reader_finds_patterns_that_are_known_to_hang(pattern: str) -> None:
    """The examples of OWASP's page on ReDoS, from memory, and their like."""
    assert nested(pattern)


@pytest.mark.parametrize("pattern", ["a+b+", "^(a|b)(,(a|b))*$", "[0-9]{1,9}([.,][0-9]{1,4})?"])
def test_the_reader_lets_others_be(pattern: str) -> None:
    assert nested(pattern) == []


def test_no_pattern_nests_endless_repeats(patterns: list[str]) -> None:
    assert [pattern for pattern in patterns if nested(pattern)] == []
