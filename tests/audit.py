"""Known vulnerabilities of what the service runs on, by pip-audit: `make audit`. No gate: its data lie on the internet.

Ends with 0 where everything was looked up and nothing is known, with 1 where something is, and with 2, saying so, where
the data could not be reached: nothing found is then no good news.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

REQUIREMENTS = Path(__file__).parent.parent / "requirements.txt"


def main() -> int:
    """Ask, print what is known, and return the exit code."""
    command = [sys.executable, "-m", "pip_audit", "-r", str(REQUIREMENTS), "--no-deps", "--disable-pip", "-f", "json"]
    asked = subprocess.run([*command, "--progress-spinner", "off"], check=False, capture_output=True, text=True)
    code, text = verdict(asked.stdout, asked.stderr)
    print(text)
    return code


def verdict(answer: str, said: str) -> tuple[int, str]:
    """Return exit code and text for what pip-audit wrote to its output and to its log."""
    try:
        packages: list[dict[str, Any]] = json.loads(answer)["dependencies"]
    except (ValueError, KeyError):
        reason = said.strip().rpartition("\n")[2] or "no reason given"
        return 2, f"The vulnerability data could not be reached, nothing was audited: {reason}"
    skipped = [package["name"] for package in packages if "skip_reason" in package]
    known = [
        f"{package['name']} {package['version']}: {fault['id']}, fixed in {', '.join(fault['fix_versions']) or 'none'}"
        for package in packages
        for fault in package.get("vulns", ())
    ]
    lines = [*known, f"{len(packages) - len(skipped)} of {len(packages)} packages were looked up, {len(known)} faults."]
    if len(skipped) == len(packages):
        lines.append("The vulnerability data could not be reached: nothing was audited.")
    elif skipped:
        lines.append(f"The vulnerability data could not be reached for: {', '.join(skipped)}")
    return 1 if known else 2 if skipped else 0, "\n".join(lines)


if __name__ == "__main__":
    sys.exit(main())
