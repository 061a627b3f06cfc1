"""The table of DEVELOPERS.md that says what holds each line of a security standard: what it names is there."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest
from django.conf import settings

GUIDE = Path(settings.BASE_DIR) / "DEVELOPERS.md"
SECTION = "## Against OWASP ASVS"
NAMED = re.compile(r"`([^`]+)`")


def _rows() -> dict[str, list[str]]:
    """What each line of the table names in code letters as its holder."""
    section = GUIDE.read_text(encoding="utf-8").split(SECTION)[1].split("\n## ")[0]
    cells = [row.strip("|").split("|") for row in section.splitlines() if row.startswith("| ")]
    return {line.strip(): NAMED.findall(held) for line, _asks, held in cells[2:]}


ROWS = _rows()


def test_there_are_lines_to_look_at() -> None:
    assert len(ROWS) > 30


@pytest.mark.parametrize("line", ROWS)
def test_line_names_what_holds_it(line: str) -> None:
    assert re.fullmatch(r"[0-9]+(\.[0-9]+)+((, | to )[0-9]+(\.[0-9]+)+)*|CWE-[0-9]+", line)
    assert any(name.startswith("tests/") for name in ROWS[line])


@pytest.mark.parametrize("name", sorted({name for names in ROWS.values() for name in names}))
def test_holder_is_there(name: str) -> None:
    file = Path(settings.BASE_DIR) / name
    is_setting = name.isupper() and hasattr(settings, name)
    assert is_setting or _has_tests(file)


def _has_tests(file: Path) -> bool:
    if not file.is_file():
        return False
    tree = ast.parse(file.read_text(encoding="utf-8"))
    return any(isinstance(node, ast.FunctionDef) and node.name.startswith("test_") for node in tree.body)
