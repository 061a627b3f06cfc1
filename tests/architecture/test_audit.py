"""The audit of packages never takes data that it could not reach for a clean bill.

The shape of pip-audit's JSON: its README, section "Output formats" (2.10).
"""

from __future__ import annotations

import json

import pytest

from tests.audit import verdict

CLEAN = {"name": "django", "version": "5.2.19", "vulns": []}
FAULTY = {"name": "flask", "version": "0.5", "vulns": [{"id": "PYSEC-2019-179", "fix_versions": ["1.0"]}]}
SKIPPED = {"name": "tablib", "skip_reason": "Dependency not found on PyPI and could not be audited: tablib (3.10.0)"}


@pytest.mark.parametrize(
    ("packages", "code", "says"),
    [
        ([CLEAN], 0, "1 of 1 packages were looked up, 0 faults."),
        ([CLEAN, FAULTY], 1, "flask 0.5: PYSEC-2019-179, fixed in 1.0"),
        ([CLEAN, SKIPPED], 2, "could not be reached for: tablib"),
        ([SKIPPED], 2, "could not be reached: nothing was audited"),
        ([FAULTY, SKIPPED], 1, "could not be reached for: tablib"),
    ],
)
def test_verdict_says_what_is_known_and_what_was_not_reached(packages, code, says):
    found, text = verdict(json.dumps({"dependencies": packages, "fixes": []}), "")
    assert found == code
    assert says in text


def test_verdict_of_no_answer_names_the_reason():
    assert verdict("", "ERROR: a\nERROR: no route to host\n") == (
        2,
        "The vulnerability data could not be reached, nothing was audited: ERROR: no route to host",
    )
