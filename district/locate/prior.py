"""Expected new leaks a year of every pipe: published rates, then the district's own breaks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.break_rates import BORE_SPREAD, Reals, bore_log, watched_years
from district.locate.pooling import Pooled, Wholes, pooled
from district.locate.rates import (
    AGE_GROWTH_SPREAD,
    age_span_years,
    published_mains,
    published_services,
)
from district.network import Network

DRAWS = 200
_SEED = 19_790_501
_DAYS_YEAR = 365.25


@dataclass(frozen=True, eq=False)
class Prior:
    """Expected leaks, one row a pipe in order of pipe_id.

    `table`: index pipe_id; layer_pipe_id, cell_id, length_m, material, diameter_mm, installed_year,
    breaks_count (on the whole layer pipe), connections_count, leaks_per_year, and of these
    service_leaks_per_year of its connections.
    `draws`: shape (pipes, DRAWS), what the rate may be instead; the same factors across a row's
    material, so that they keep together as they do in truth.
    """

    table: pd.DataFrame
    draws: Reals
    history_years: float
    breaks_used: int
    breaks_lost: int
    """Breaks on pipes that are not (or no longer) in the layer."""


def leak_prior(network: Network, breaks: pd.DataFrame, *, year: int) -> Prior:
    """Expected new leaks of each pipe in `year`, with draws of their uncertainty.

    Parameters: `breaks` input table BREAKS. A break counts for the pipe of the layer it was on,
    shared over the parts devices cut it into by what is expected of each; one on a copy that was
    left out counts for the pipe it copies, one from before the pipe was laid for none. The draws
    come from a fixed seed and follow the order of ids, so that the order of rows changes nothing.
    """
    pipes = pd.DataFrame(network.pipes.drop(columns="geometry")).sort_index()
    unit_names, unit = np.unique(pipes["layer_pipe_id"].to_numpy(dtype=str), return_inverse=True)
    materials, material = np.unique(
        pipes["material"].fillna("unknown").to_numpy(dtype=str), return_inverse=True
    )
    owned = network.connections
    count = owned.groupby("pipe_id").size().reindex(pipes.index, fill_value=0).to_numpy(float)
    private = owned.groupby("pipe_id")["private_pipe_m"].sum().reindex(pipes.index, fill_value=0.0)
    mains = published_mains(pipes, year=year)
    services = published_services(count, private.to_numpy(dtype=float))

    first_of_unit = np.unique(unit, return_index=True)[1]
    laid = pipes["installed_year"].to_numpy(dtype=float)[first_of_unit]
    repairs = network.repairs[network.repairs["what"] == "duplicate"]
    copy_of = dict(zip(repairs["pipe_id"], repairs["other_id"], strict=True))
    breaks = breaks.assign(pipe_id=breaks["pipe_id"].replace(copy_of))
    of_break, kind, years, last, lost = _history(breaks, pipes, unit_names, unit, laid, year)
    main_breaks = np.bincount(of_break[kind == "main"], minlength=len(unit_names)).astype(float)
    service_breaks = np.bincount(of_break[kind != "main"], minlength=len(unit_names)).astype(float)
    watched = np.clip(np.where(np.isnan(laid), years, last - laid), 0.0, years)
    group = material[first_of_unit].astype(np.int64)
    # A record without a single break of a kind was not kept for that kind.
    main_fit = pooled(
        np.bincount(unit, weights=mains, minlength=len(unit_names))
        * watched
        * bool(main_breaks.any()),
        main_breaks,
        group,
        groups_count=len(materials),
    )
    alike = np.zeros(len(unit_names), dtype=np.int64)
    service_fit = pooled(
        np.bincount(unit, weights=services, minlength=len(unit_names))
        * watched
        * bool(service_breaks.any()),
        service_breaks,
        alike,
        groups_count=1,
    )
    of_services = services * service_fit.mean(alike)[unit]
    expected = mains * main_fit.mean(group)[unit] + of_services

    random = np.random.default_rng(_SEED)
    growth = random.normal(0.0, AGE_GROWTH_SPREAD / 1.96, DRAWS).astype(np.float32)
    power = random.normal(0.0, BORE_SPREAD / 1.96, DRAWS).astype(np.float32)
    age = age_span_years(pipes["installed_year"], year=year).astype(np.float32)
    bore = bore_log(pipes["diameter_mm"]).astype(np.float32)
    draws = np.exp(np.outer(age, growth) - np.outer(bore, power))
    draws *= mains.astype(np.float32)[:, None]
    draws *= _factors(main_fit, group, random)[unit]
    draws += services.astype(np.float32)[:, None] * _factors(service_fit, alike, random)[unit]

    kept = ["layer_pipe_id", "cell_id", "length_m", "material", "diameter_mm", "installed_year"]
    table = pipes[kept].assign(
        breaks_count=(main_breaks + service_breaks)[unit].astype(int),
        connections_count=count.astype(int),
        leaks_per_year=expected,
        service_leaks_per_year=of_services,
    )
    return Prior(table, draws, years, len(of_break), lost)


def _factors(fit: Pooled, group: Wholes, random: np.random.Generator) -> Reals:
    district = random.gamma(fit.district_shape, 1 / fit.district_rate, DRAWS)
    groups = random.gamma(
        fit.group_shape[:, None], 1 / fit.group_rate[:, None], (len(fit.group_shape), DRAWS)
    )
    drawn = random.standard_gamma(
        np.repeat(fit.unit_shape.astype(np.float32)[:, None], DRAWS, axis=1), dtype=np.float32
    )
    drawn /= fit.unit_rate.astype(np.float32)[:, None]
    drawn *= (groups * district).astype(np.float32)[group]
    return np.asarray(drawn)


def _history(
    breaks: pd.DataFrame,
    pipes: pd.DataFrame,
    unit_names: Any,
    unit: Any,
    laid: Reals,
    year: int,
) -> tuple[Any, Any, float, float, int]:
    """Unit and kind of each usable break, years watched, the last of them, and breaks lost."""
    dated = breaks.dropna(subset=["date", "pipe_id"])
    dates = pd.to_datetime(dated["date"])
    by_name = dict(zip(unit_names, range(len(unit_names)), strict=True))
    by_part = dict(zip(pipes.index, unit, strict=True))
    places = [by_name.get(p, by_part.get(p, -1)) for p in dated["pipe_id"].astype(str)]
    place = np.asarray(places, dtype=np.int64)
    when = (dates.dt.year + dates.dt.day_of_year / _DAYS_YEAR).to_numpy(dtype=float)
    usable = place >= 0
    usable[usable] = ~(np.floor(when[usable]) < laid[place[usable]])
    years, last = watched_years(when, year=year)
    kind = dated["kind"].fillna("main").to_numpy(dtype=str)
    return place[usable], kind[usable], years, last, len(breaks) - int(usable.sum())
