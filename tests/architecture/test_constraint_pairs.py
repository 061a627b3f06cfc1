"""No constraint without its pair of tests (DEVELOPERS.md, what must stay true)."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.constraints import named_constraints

TESTS = Path(__file__).parents[1]
SIDES = ("clean_error_of", "refused_by_database")


def marked(side: str) -> Iterator[str]:
    """Names on a side: `@pytest.mark.<side>("name", ...)` on a test, `<side>("name", ...)` in a table of cases."""
    for path in sorted(TESTS.rglob("test_*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "attr", None) == side:
                yield from (argument.value for argument in node.args if isinstance(argument, ast.Constant))
            elif isinstance(node, ast.Call) and getattr(node.func, "id", None) == side:
                yield node.args[0].value


@pytest.mark.parametrize("side", SIDES)
def test_every_constraint_has_a_test_on_each_side(side: str) -> None:
    assert sorted(set(named_constraints()) - set(marked(side))) == []


@pytest.mark.parametrize("side", SIDES)
def test_no_test_names_a_constraint_that_is_not_there(side: str) -> None:
    assert sorted(set(marked(side)) - set(named_constraints())) == []
