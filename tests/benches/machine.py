"""The machine that a bench ran on, in one line."""

from __future__ import annotations

import os
import platform
from pathlib import Path


def machine() -> str:
    """Say processor, cores and Python."""
    cpu_info = Path("/proc/cpuinfo")
    lines = cpu_info.read_text().splitlines() if cpu_info.exists() else []
    names = [line.split(":", 1)[1].strip() for line in lines if line.startswith("model name")]
    name = names[0] if names else platform.machine()
    return f"{name}, {os.cpu_count()} cores, Python {platform.python_version()}, {platform.system()}"
