"""Which mains to renew: a folder's record of breaks, what breaks cost, and the list of a budget.

Above the pipeline, whose balance and search for leaks it uses where there are readings; the plan
itself is `district.plan`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from district import intake, ledger, pipeline, plan, render
from district.afterwards import breaks_known, repairs_known
from district.break_rates import of_the_record
from district.errors import Finding, StageError, worst_first
from district.network import Network
from district.opening import Mapped, Say, open_map, silent
from district.renewal_results import Backtest, PipeRates, Renewal
from district.results import Basis, Inputs
from district.schema.annual_tables import ECONOMICS
from district.schema.columns import empty
from district.schema.event_tables import REPAIR_CHECKS
from district.schema.outputs import LIKELIHOOD
from district.schema.pressures import ZONE_PRESSURE
from district.schema.renewal_tables import SURVEY_YEAR
from district.settings import Settings, read_settings
from district.shutting import valves_of
from district.words import plural

_NO_BUDGET = (
    "No budget is told: one hundredth of what renewing all mains costs is taken for it. Set "
    "budget_currency under [renew], or give --budget."
)
_LEAST_TO_TEST = 20
_LATE_SHARE = 0.7
"""A list is held against the last three tenths of the breaks, from the start of a year."""


@dataclass(frozen=True, eq=False)
class _Read:
    """A folder as far as the plan needs it; without readings the last three have no rows."""

    settings: Settings
    inputs: Inputs
    network: Network
    findings: tuple[Finding, ...]
    breaks: pd.DataFrame
    year: int
    likelihood: pd.DataFrame
    zone_pressure: pd.DataFrame
    economics: pd.DataFrame
    last: pd.Timestamp | None = None
    """Last night of the readings."""
    said: tuple[str, ...] = ()


def renew_folder(
    folder: Path,
    *,
    budget_currency: float | None = None,
    year: int | None = None,
    with_readings: bool = True,
    say: Say = silent,
) -> Renewal:
    """The plan of renewal of a folder for a calendar year, the one after its data if not told.

    With readings, leaks looked for now count where they likely are, and zones get their year of
    surveys; without, the map and the record of breaks do. `budget_currency` as in the settings if
    not told. Raises `InputError`, `StageError`.
    """
    if year is not None:
        _not_past(year, read_settings(folder))
    read = _read(folder, year, with_readings=with_readings, say=say)
    settings, inputs, network = read.settings, read.inputs, read.network
    currency = settings.district.currency
    history = _history(read)
    say("telling how often each main breaks")
    rates = plan.pipe_rates(history, settings=settings, year=read.year)
    say("telling what a break costs")
    costs = plan.pipe_costs(
        _laid(inputs, network),
        network,
        valves_of(network, inputs.entries, settings=settings),
        read.likelihood,
        read.zone_pressure,
        inputs.streets,
        inputs.surfaces,
        settings=settings,
    )
    budget = budget_currency
    if budget is None:
        budget = plan.usual_budget_currency(costs.table, settings=settings)
    say("choosing what to renew")
    found = plan.renewal_list(
        rates, costs.table, network, settings=settings, budget_currency=budget
    )
    say("holding a list against later breaks")
    tested = _tested(history, settings)
    surveys = None
    if read.last is not None:
        first = (read.last + pd.Timedelta(days=1)).date()
        surveys = plan.survey_year(
            network, read.economics, inputs.surveys, settings=settings, first=first
        )
    basis = Basis(
        first=None,
        last=None if read.last is None else read.last.date(),
        assumptions=(
            *rates.basis.assumptions,
            *_repairs_counted(read),
            *costs.basis.assumptions,
            *found.assumptions,
            *(() if surveys is None else surveys.basis.assumptions),
        ),
        limits=(
            *(() if budget_currency or settings.renew.budget_currency else (_NO_BUDGET,)),
            *rates.basis.limits,
            *costs.basis.limits,
            *read.said,
        ),
    )
    lines = inputs.pipes[["pipe_id", "geometry"]]
    return Renewal(
        name=settings.district.name,
        currency=currency,
        year=read.year,
        budget_currency=budget,
        rates=rates,
        pipes=found.pipes,
        projects=found.projects,
        variants=found.variants,
        years=found.years,
        groups=found.groups,
        lines=lines[lines["pipe_id"].isin(found.pipes["pipe_id"])].reset_index(drop=True),
        zones=dict(zip(network.cells.index.astype(str), network.cells["name"], strict=True)),
        backtest=tested,
        said=tuple(
            line
            for line in (
                *plan.doubts(history, settings=settings, year=read.year),
                *found.said,
                "" if surveys is None else plan.year_said(surveys.table, currency=currency),
            )
            if line
        ),
        basis=basis,
        findings=worst_first([*read.findings, *history.findings]),
        survey_year=empty(SURVEY_YEAR) if surveys is None else surveys.table,
    )


def backtest_folder(folder: Path, *, year: int, say: Say = silent) -> tuple[Backtest, PipeRates]:
    """How good a list made at the start of `year` would have been, from map and breaks alone; and
    the rates as they are told now. Raises `InputError`, `StageError`."""
    read = _read(folder, None, with_readings=False, say=say)
    history = _history(read)
    say("holding a list against later breaks")
    found = plan.backtest(history, year=year, settings=read.settings)
    found = replace(found, findings=worst_first([*read.findings, *history.findings]))
    return found, plan.pipe_rates(history, settings=read.settings, year=read.year)


def write_renewal(found: Renewal, out: Path) -> tuple[Path, ...]:
    """Write page, map, workbook, layers and tables of the plan into `out`. Raises
    `OutputError`."""
    return render.write_renewal(found, out)


def _read(folder: Path, year: int | None, *, with_readings: bool, say: Say) -> _Read:
    if with_readings and intake.reading_list(folder, read_settings(folder))[0]:
        opened, found, events, location = pipeline.locate_folder(folder, say=say)
        last = found.nights["night"].max()
        of = (opened.inputs, opened.network, events, opened.settings)
        return _Read(
            opened.settings,
            opened.inputs,
            opened.network,
            opened.findings,
            breaks_known(*of),
            (last + pd.Timedelta(days=1)).year if year is None else year,
            location.likelihood,
            found.zone_pressure,
            found.economics,
            last,
        )
    mapped = open_map(folder, say=say)
    repairs = repairs_known(mapped.inputs, mapped.network, mapped.settings)
    breaks = ledger.breaks_with_repairs(mapped.inputs.breaks, repairs, empty(REPAIR_CHECKS))
    return _Read(
        mapped.settings,
        mapped.inputs,
        mapped.network,
        mapped.findings,
        breaks,
        _year_after(mapped, breaks) if year is None else year,
        empty(LIKELIHOOD),
        empty(ZONE_PRESSURE),
        empty(ECONOMICS),
        said=("Without readings no zone gets its year of surveys.",),
    )


def _not_past(year: int, settings: Settings) -> None:
    """Raises `StageError` for a year before the record's last: its list would know what came
    after."""
    said = settings.renew.record_dates
    if said and year < said[1].year:
        raise StageError(
            f"The record of breaks runs to {said[1]}, so that a list of {year} would know what "
            f"broke after. Give {said[1].year} or later; --backtest {year} holds a list made then "
            "against the breaks since."
        )


def _year_after(mapped: Mapped, breaks: pd.DataFrame) -> int:
    """The calendar year after the record of breaks."""
    said = mapped.settings.renew.record_dates
    if said:
        return int((pd.Timestamp(said[1]) + pd.Timedelta(days=1)).year)
    dates = pd.to_datetime(breaks["date"]).dropna()
    if len(dates):
        # One date mistyped must not age every pipe.
        years = dates.dt.year + dates.dt.day_of_year / 366
        kept = of_the_record(years.to_numpy(dtype=float))
        return int(dates[kept].max().year) + 1
    laid = mapped.inputs.pipes["installed_year"].dropna()
    if len(laid):
        return int(laid.max()) + 1
    raise StageError(
        "Neither a break nor a year of laying tells when this map was drawn, so that ages are not "
        "known. Say the year of the plan with --year."
    )


def _repairs_counted(read: _Read) -> tuple[str, ...]:
    added = len(read.breaks) - len(read.inputs.breaks)
    if added < 1:
        return ()
    return (f"{plural(added, 'repaired leak')} on record counted among the breaks.",)


def _laid(inputs: Inputs, network: Network) -> Any:
    """The pipes of the layer that are drawn once: those in use as the network has them."""
    known = set(network.pipes["layer_pipe_id"].astype(str))
    pipes = inputs.pipes
    there = pipes["pipe_id"].astype(str).isin(known) | (pipes["status"] != "in_use")
    return pipes[there].reset_index(drop=True)


def _history(read: _Read) -> plan.History:
    pipes = _laid(read.inputs, read.network)
    repairs = read.network.repairs
    copies = repairs[repairs["what"] == "duplicate"]
    return plan.pipe_history(
        pipes,
        read.breaks,
        settings=read.settings,
        year=read.year,
        cells=plan.cells_of(read.network),
        streets=plan.pipe_streets(pipes, read.inputs.streets, settings=read.settings),
        copy_of=dict(zip(copies["pipe_id"], copies["other_id"], strict=True)),
        source=read.inputs.files.get("breaks", "breaks"),
        pipes_source=read.inputs.files.get("pipes", "pipes"),
    )


def _tested(history: plan.History, settings: Settings) -> Backtest | None:
    """A list held against the last part of the record, None where it is too short for that."""
    when = np.sort(history.break_year)
    if len(when) < _LEAST_TO_TEST:
        return None
    year = round(float(np.quantile(when, _LATE_SHARE)))
    try:
        return plan.backtest(history, year=year, settings=settings)
    except StageError:
        # All breaks on one side of every New Year: nothing to hold it against.
        return None
