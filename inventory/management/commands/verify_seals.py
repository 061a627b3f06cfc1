"""`manage.py verify_seals`: hold the ledger against its seals."""

from __future__ import annotations

import argparse
import re
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from inventory.selectors.seals import verify_seals

_NOTED = re.compile(r"([0-9]{1,9}):([0-9a-f]{64})")


def noted_seal(text: str) -> tuple[int, str]:
    """Read a seal as `seal_ledger` prints it.

    Raises
    ------
    argparse.ArgumentTypeError
        If it is none.
    """
    found = _NOTED.fullmatch(text)
    if found is None:
        raise argparse.ArgumentTypeError(f"{text!r} is no seal; write number:hash as seal_ledger prints it.")
    return int(found[1]), found[2]


class Command(BaseCommand):
    help = "Compute every seal again from the ledger and print what does not hold; exit code 1 if anything does not."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "noted", nargs="*", type=noted_seal, help="seals noted outside the database, as number:hash"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        check = verify_seals(noted=dict(options["noted"]))
        for fault in check.faults:
            self.stdout.write(str(fault))
        if check.faults:
            raise CommandError(f"{len(check.faults)} faults: the ledger is not as it was sealed.", returncode=1)
        self.stdout.write(
            f"{check.seals} seals over {check.movements} movements hold; {check.unsealed} movements are not sealed yet."
        )
        if check.seals:
            self.stdout.write(f"Last seal {check.seals}:{check.last_hash}")
