"""Leak trials searched by the prior, with what loggers tell, and with all of it known."""

from __future__ import annotations

import os
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from multiprocessing import get_context
from typing import Any

import numpy as np
import pandas as pd
from scipy.sparse import csr_array, diags_array

from district.hydraulics import Calibrated, calibrate, draw_model, hourly_demands
from district.locate import locate_leaks
from district.locate.spots import Heard
from district.results import Location
from district.simulate import LeakTrial, draw_leak_trials

ZONE = "Z01"
PROCESSES = 2
_NIGHT = (2, 3)


@dataclass(frozen=True)
class Setting:
    """What a trial is drawn with; zones of 200 to 2,000 pipes by its seed."""

    seed: int
    leak_l_s: float
    loggers_count: int
    leaks_count: int = 1
    offset_m: float = 0.0
    wrong_valve: bool = False


def drawn(setting: Setting) -> LeakTrial:
    """The trial of a setting."""
    rng = np.random.default_rng([20250606, setting.seed])
    return draw_leak_trials(
        setting.seed,
        pipes_count=round(float(np.exp(rng.uniform(np.log(200), np.log(2000))))),
        loggers_count=setting.loggers_count,
        leak_l_s=setting.leak_l_s,
        leaks_count=setting.leaks_count,
        loops_share=float(rng.uniform(0.08, 0.22)),
        offset_m=setting.offset_m,
        wrong_valve=setting.wrong_valve,
    )[0]


def heard_by(trial: LeakTrial) -> Heard:
    """What a district knows: a model by its GIS, fitted to the days before the leak."""
    network, settings = trial.network, trial.settings
    days = pd.to_datetime(trial.hourly_flows["day"])
    before = pd.DatetimeIndex(days[days < trial.events["start_low"].iloc[0]].unique())
    model = draw_model(network, settings=settings)
    demands = hourly_demands(
        network,
        model,
        trial.hourly_flows,
        settings=settings,
        leakage_l_s=_night_leakage(trial, before),
        pressure_m=trial.zones.set_index("cell_id")["pressure_m"],
    )
    fitted = calibrate(model, demands, trial.hourly_pressures, days=[d.date() for d in before])
    return Heard(fitted, demands, trial.hourly_pressures)


def known_to(trial: LeakTrial, heard: Heard) -> Heard:
    """The same model with the true roughness, use and offsets: nothing left to doubt but the
    readings."""
    model = draw_model(trial.network, settings=trial.settings)
    roughness = model.model.roughness.copy()
    roughness[model.pipe_link] = trial.roughness
    true = replace(model, model=replace(model.model, roughness=roughness))
    fitted = heard.calibrated
    calibrated = Calibrated(
        drawn=true,
        roughness=roughness[None],
        offset_m=trial.offset_m.reindex(model.logger_id).to_numpy(),
        groups=fitted.groups,
        loggers=fitted.loggers,
        usable=np.ones(len(model.logger_id), dtype=bool),
    )
    demands = heard.demands
    own = (trial.network.connections["cell_id"] == ZONE).to_numpy()
    read = trial.network.connections["meter_id"].isin(trial.hourly_flows["device_id"]).to_numpy()
    use = (trial.use_l_s * own * ~read) @ true.tap
    at = np.array([c == ZONE for c in demands.cell_id], dtype=float)
    rows = csr_array(np.outer(at, use / use.sum())) + diags_array(1 - at) @ demands.use
    return Heard(
        calibrated,
        replace(demands, use=csr_array(rows), use_spread_share=np.zeros(len(at))),
        heard.pressures,
    )


def located(trial: LeakTrial, heard: Heard | None = None) -> Location:
    """Where the leak is taken to be."""
    return locate_leaks(
        trial.network,
        trial.breaks,
        trial.zones,
        trial.events,
        settings=trial.settings,
        year=trial.year,
        heard=heard,
    )


def searched(location: Location, trial: LeakTrial) -> dict[str, float]:
    """How far a crew walks, by rank, to the first leak: half of the pipe it is on included, as a
    share of the zone's mains. Whether the set holds its pipe and its place, all leaks' pipes, and
    how long the set is."""
    table = location.stretches[location.stretches["cell_id"] == ZONE].set_index("stretch_id")
    mains_m = table["length_m"].sum()
    own = table.loc[trial.leaks["pipe_id"]]
    first = own["rank"].idxmin()
    at = trial.leaks.set_index("pipe_id")["share"] * own["length_m"]
    within = own["in_set"] & (own["from_m"] <= at + 1e-6) & (at - 1e-6 <= own["to_m"])
    before = table.loc[table["rank"] < own.loc[first, "rank"], "length_m"].sum()
    walked = (table["to_m"] - table["from_m"])[table["in_set"]].sum()
    return {
        "walk_share": float((before + own.loc[first, "length_m"] / 2) / mains_m),
        "pipe_held": float(own["in_set"].any()),
        "place_held": float(within.any()),
        "all_held": float(own["in_set"].all()),
        "set_share": float(walked / mains_m),
    }


def outcome(setting: Setting) -> dict[str, Any]:
    """One trial: `searched` by prior, evidence and bound, each figure named after its way."""
    trial = drawn(setting)
    heard = heard_by(trial)
    ways = {
        "prior": None,
        "evidence": heard,
        "bound": known_to(trial, heard),
    }
    found: dict[str, Any] = {
        "seed": setting.seed,
        "leak_l_s": setting.leak_l_s,
        "loggers": setting.loggers_count,
        "pipes": len(trial.network.pipes),
        "peak_loss_m": trial.peak_loss_m,
        "explained": heard.calibrated.reason == "",
    }
    for way, known in ways.items():
        own = searched(located(trial, known), trial)
        found |= {f"{way} {name}": value for name, value in own.items()}
    return found


def outcomes(settings: list[Setting]) -> pd.DataFrame:
    """Table of the outcomes, a row a trial, by two processes at most."""
    os.environ["OMP_NUM_THREADS"] = os.environ["OPENBLAS_NUM_THREADS"] = "1"
    with ProcessPoolExecutor(PROCESSES, mp_context=get_context("spawn")) as pool:
        return pd.DataFrame(list(pool.map(outcome, settings)))


def _night_leakage(trial: LeakTrial, before: pd.DatetimeIndex) -> pd.Series[Any]:
    """Night inflow before the leak less the allowances, as the night balance tells it."""
    flows, homes = trial.hourly_flows, trial.network.connections
    at_edge = flows["device_id"].isin(trial.network.boundaries["meter_id"])
    by_night = flows[at_edge & flows["hour"].isin(_NIGHT) & flows["day"].isin(before)]
    inflow = by_night.groupby(["day", "hour"])["flow_l_s"].sum().mean()
    by_class = {c: a.l_property_h for c, a in trial.settings.allowances.items()}
    use = (homes["use_class"].map(by_class) * homes["properties"]).sum() / 3600
    return pd.Series({ZONE: max(float(inflow - use), 0.0)})
