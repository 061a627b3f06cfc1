"""`level_table`: the levels of every SKU of a demand table, kept from night to night, without a plant."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from forecasting import ForecastingError
from forecasting.state_files import kept_states, read_states, write_states
from forecasting.table_files import checked_suffix, read_table, write_table


class Command(BaseCommand):
    help = (
        "Write the demand that each SKU's level expects in the next period: by simple smoothing (ses), the "
        "Syntetos-Boylan approximation (sba) and the method of Teunter, Syntetos and Babai (tsb), each with the "
        "constant of least squared error. STATES is written at first, from the whole history; from then on IN holds "
        "only the new periods, and the answer is that of the whole record, bit for bit. Reads no database."
    )
    requires_system_checks: tuple[str, ...] = ()

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("table", type=Path, metavar="IN", help="demand table as for forecast_table")
        parser.add_argument("target", type=Path, metavar="OUT", help="levels to write, .csv or .parquet")
        parser.add_argument("--states", type=Path, required=True, help="file that the levels are kept in")

    def handle(self, *, table: Path, target: Path, states: Path, **_options: Any) -> None:
        try:
            checked_suffix(target)
            history = read_table(table)
            kept = read_states(states).after(history) if states.exists() else kept_states(history)
            answer = kept.chosen()
            write_table(answer, target)
            write_states(kept, states)
        except ForecastingError as error:
            raise CommandError(f"{table.name}: {error}") from error
        except OSError as error:
            raise CommandError(str(error)) from error
        self.stdout.write(f"Wrote levels of {len(answer)} SKUs after {kept.states.period} to {target}.")
