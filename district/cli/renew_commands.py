"""The command of the plan of renewal: which pipes to renew, and how good such a list is."""

from __future__ import annotations

import math
import sys
from pathlib import Path

import click

from district import planning
from district.cli import renew_objects, renew_tables
from district.cli.options import FOLDER, JSON, OUT, TO_ACT_ON, print_object, told

EPILOG = """\
\b
How good a list made at the start of 2020 would have been:
  district renew FOLDER --backtest 2020

Exit status: 0 nothing is listed, 3 works are listed, 2 input that cannot be used.
"""
_YEARS = click.IntRange(1900, 2200)


def _number(_: click.Context, __: click.Parameter, value: float | None) -> float | None:
    # Not a number lies within any limits.
    if value is not None and math.isnan(value):
        raise click.BadParameter("nan is no sum of money.")
    return value


@click.command(epilog=EPILOG)
@FOLDER
@click.option(
    "--budget",
    "budget_currency",
    type=click.FloatRange(min=0, min_open=True, max=1e12),
    callback=_number,
    metavar="MONEY",
    help="Budget of the year; as in the settings if not said.",
)
@click.option("--year", type=_YEARS, metavar="Y", help="Year of the plan.")
@click.option(
    "--without-readings",
    is_flag=True,
    help="Leave out what needs readings: hidden leaks and surveys.",
)
@click.option(
    "--backtest",
    type=_YEARS,
    metavar="Y",
    help="Hold a list as of the start of that year against the breaks since; print that alone.",
)
@OUT
@JSON
def renew(
    folder: Path,
    budget_currency: float | None,
    year: int | None,
    without_readings: bool,
    backtest: int | None,
    out: Path,
    as_json: bool,
) -> None:
    """Which pipes to renew under a budget, what that saves, and how good such a list is."""
    if backtest is not None:
        if without_readings or any(given is not None for given in (budget_currency, year)):
            raise click.UsageError(
                "--backtest goes alone with --json: a list of the past is made of map and breaks "
                "alone, and has no budget and no year of its own."
            )
        _tested(folder, backtest, as_json)
        return
    with told(as_json) as progress:
        plan = planning.renew_folder(
            folder,
            budget_currency=budget_currency,
            year=year,
            with_readings=not without_readings,
            say=progress,
        )
        progress("writing the pages")
        paths = planning.write_renewal(plan, out)
    if as_json:
        print_object(renew_objects.renewal_object(plan, paths))
    else:
        renew_tables.print_renewal(plan, paths)
    sys.exit(TO_ACT_ON if len(plan.projects) else 0)


def _tested(folder: Path, year: int, as_json: bool) -> None:
    with told(as_json) as progress:
        found, rates = planning.backtest_folder(folder, year=year, say=progress)
    if as_json:
        print_object(renew_objects.backtest_object(found, rates))
    else:
        renew_tables.print_backtest(found)
