"""`forecast_table`: forecast any demand table, without a plant in the database."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from forecasting import ForecastingError, forecast, table_files
from forecasting.periods import seasons_of
from forecasting.predict import DEFAULT_QUANTILES, checked_horizons
from forecasting.table_files import checked_suffix, read_table, write_table

THE_FORECAST = """\
The forecast has one row per SKU and horizon: sku, horizon, mean, variance and one column per quantile, named by its
probability, all of the demand cumulated over the next so many periods. Days have factors of their weekdays, months of
the year. On any fault nothing is written."""


class Command(BaseCommand):
    help = "Forecast the demand of every SKU of a table, cumulated over the next periods. Reads no database."
    requires_system_checks: tuple[str, ...] = ()

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> CommandParser:
        """Add the schema of the tables to the help, line by line as it is written there."""
        schema = (table_files.__doc__ or "").replace("``", "")
        kwargs |= {"formatter_class": argparse.RawDescriptionHelpFormatter, "epilog": f"{schema}\n{THE_FORECAST}"}
        return super().create_parser(prog_name, subcommand, **kwargs)

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("table", type=Path, metavar="IN", help="demand table, .csv or .parquet")
        parser.add_argument("target", type=Path, metavar="OUT", help="forecast to write, .csv or .parquet")
        parser.add_argument("--horizons", type=_list_of(int), required=True, help="numbers of periods: 1,5,10")
        parser.add_argument(
            "--quantiles",
            type=_list_of(float),
            default=DEFAULT_QUANTILES,
            help=f"probabilities ({','.join(f'{q:g}' for q in DEFAULT_QUANTILES)})",
        )

    def handle(
        self, *, table: Path, target: Path, horizons: list[int], quantiles: Sequence[float], **_options: Any
    ) -> None:
        try:
            checked_suffix(target)
            ahead = checked_horizons(horizons)
            history = read_table(table)
            seasons = seasons_of(history.index, longest=int(ahead[-1]))
            answer = forecast(history, horizons=horizons, quantiles=quantiles, **seasons).to_frame()
            write_table(answer, target)
        except ForecastingError as error:
            raise CommandError(f"{table.name}: {error}") from error
        except OSError as error:
            raise CommandError(str(error)) from error
        n_periods, n_skus = history.shape
        self.stdout.write(f"Wrote {len(answer)} rows to {target}: {n_skus} SKUs, {n_periods} periods of history.")


def _list_of(kind: type[int] | type[float]) -> Callable[[str], list[float]]:
    def parsed(text: str) -> list[float]:
        try:
            return [kind(part) for part in text.split(",")]
        except ValueError as error:
            raise argparse.ArgumentTypeError(f"write numbers as 1,5,10; got {text!r}") from error

    return parsed
