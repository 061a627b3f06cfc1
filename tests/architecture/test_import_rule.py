"""The import rule and the migrations, held by tests as well as by the static checks."""

from __future__ import annotations

from importlinter.cli import EXIT_STATUS_SUCCESS, lint_imports


def test_imports_run_one_way():
    assert lint_imports(no_cache=True) == EXIT_STATUS_SUCCESS
