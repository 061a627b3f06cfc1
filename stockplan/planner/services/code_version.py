"""Which code computed a stored result."""

from __future__ import annotations

import hashlib
from functools import lru_cache
from pathlib import Path

import forecasting
from stockplan.planner import core


@lru_cache(maxsize=1)
def code_version() -> str:
    """Return a digest of the sources that decide on forecasts and lists."""
    digest = hashlib.sha256()
    for package in (forecasting, core):
        for path in sorted(Path(package.__path__[0]).rglob("*.py")):
            digest.update(path.read_bytes())
    return digest.hexdigest()[:16]
