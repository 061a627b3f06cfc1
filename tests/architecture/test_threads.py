"""The service keeps the linear algebra to one thread, whoever starts it."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ASKED = """
import os, sys
import stockplan.settings
# It counts only if it is said before the library is loaded.
print(os.environ["OPENBLAS_NUM_THREADS"], "numpy" in sys.modules)
"""


def _said(**more: str) -> str:
    environment = {name: value for name, value in os.environ.items() if name != "OPENBLAS_NUM_THREADS"} | more
    command = [sys.executable, "-c", ASKED]
    root = Path(__file__).resolve().parents[2]
    return subprocess.run(command, env=environment, cwd=root, check=True, capture_output=True, text=True).stdout.strip()


def test_settings_ask_for_one_thread_before_numpy_is_loaded() -> None:
    assert _said() == "1 False"


def test_a_plant_may_ask_for_more() -> None:
    assert _said(OPENBLAS_NUM_THREADS="4") == "4 False"
