"""Step tests in drawn zones: planned by where the leak likely is, and by equal lengths."""

from __future__ import annotations

import os
import time as clock
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from datetime import time
from multiprocessing import get_context
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components

from district.hydraulics import solve
from district.isolate import Night, Sought, StepPlan, plan_step_test, segments_of
from district.locate import Heard, Seen, locate_leaks
from district.network import Network
from district.results import Location
from district.schema import empty
from district.schema.field_records import CORRELATIONS, SIGHTINGS, STEP_TESTS, SURVEYS
from district.schema.stored import ACOUSTIC_NIGHTS, ALARMS
from district.simulate import LeakTrial
from tests.benchmarks.search_trials import PROCESSES, ZONE, Setting, drawn, heard_by, searched

STEPS = 4
NIGHT = Night(time(1, 30), time(4, 30))
VALVED_SHARE = 0.4
"""Pipes with a valve at one end. Common practice, no source: one in some 100 to 200 m of mains."""
_FROM_END_M = 2.5
_DRAW_L = 20.0
"""Litres drawn at once, as the zones themselves are drawn with."""


def valved(network: Network, rng: np.random.Generator) -> tuple[Network, list[str]]:
    """The zone with a valve near the start of some pipes, which it cuts in two; their ids."""
    pipes, nodes = network.pipes, network.nodes
    able = (pipes["cell_id"] == ZONE).to_numpy() & (pipes.geometry.length > 4 * _FROM_END_M)
    rows = np.flatnonzero(able & (rng.random(len(pipes)) < VALVED_SHARE))
    lines = pipes.geometry.to_numpy()
    place = shapely.line_interpolate_point(lines[rows], _FROM_END_M)
    share = _FROM_END_M / shapely.length(lines[rows])
    start, end = (shapely.get_point(lines[rows], n) for n in (0, -1))
    new = len(nodes) + np.arange(len(rows))
    stub = pipes.iloc[rows].copy()
    stub.index = [f"{p}v" for p in stub.index]
    stub["end_position"] = new
    stub["length_m"] *= share
    stub["geometry"] = shapely.linestrings(np.stack([_xy(start), _xy(place)], axis=1))
    rest = pipes.copy()
    rest.iloc[rows, rest.columns.get_loc("start_position")] = new
    rest.iloc[rows, rest.columns.get_loc("length_m")] *= 1 - share
    geometry = lines.copy()
    geometry[rows] = shapely.linestrings(np.stack([_xy(place), _xy(end)], axis=1))
    rest["geometry"] = geometry
    names = [f"V{p}" for p in pipes.index[rows]]
    valves = gpd.GeoDataFrame(
        {
            "valve_id": names,
            "kind": "isolation",
            "state": "open",
            "operable": True,
            "setting_m": np.nan,
            "pipe_id": pipes.index[rows].to_numpy(),
            "cell_id": ZONE,
        },
        geometry=place,
        crs=pipes.crs,
        index=pd.Index(names, dtype=object),
    )
    more = gpd.GeoDataFrame(
        {"cut": ""}, index=[f"N{n:05d}" for n in new], geometry=place, crs=nodes.crs
    )
    return (
        replace(
            network,
            pipes=gpd.GeoDataFrame(pd.concat([rest, stub]), crs=pipes.crs),
            nodes=gpd.GeoDataFrame(pd.concat([nodes, more]).rename_axis("node_id"), crs=nodes.crs),
            valves=valves,
        ),
        names,
    )


def _xy(points: Any) -> Any:
    return shapely.get_coordinates(points)


class Stepped:
    """The true zone with some of its valves shut, and its inflow by night then."""

    def __init__(self, trial: LeakTrial, rng: np.random.Generator) -> None:
        model = trial.model
        pipe = np.array([str(i).split("/")[0] for i in model.link_id])
        ends = trial.network.pipes["start_position"]
        first = np.flatnonzero(model.start == ends.reindex(pipe).to_numpy())
        self.link = dict(zip(pipe[first], first, strict=True))
        self.trial, self.rng = trial, rng
        self.error = 1 + rng.normal(0, 0.01)
        self.is_open = model.is_open.copy()

    def shut(self, valve: str) -> None:
        """Shut a valve and leave it so."""
        self.is_open[self.link[valve[1:]]] = False

    def inflow_l_s(self) -> float:
        """What the zone takes on average, leaks included."""
        model, trial = self.trial.model, self.trial
        on = self.is_open
        size = len(model.elevation_m)
        links = csr_array((np.ones(on.sum()), (model.start[on], model.end[on])), shape=(size, size))
        label = connected_components(links, directed=False)[1]
        fed = label == label[np.isfinite(model.fixed_head_m)][0]
        state = solve(
            replace(model, is_open=on), np.where(fed, trial.night_l_s, 0.0), openings=trial.openings
        )
        self.use_l_s = float(trial.night_l_s[fed].sum())
        return self.use_l_s + float(state.leakage_l_s[fed].sum())

    def read_l_s(self) -> tuple[float, float]:
        """What the meters show over a step, few draws and all, and the mean it is of."""
        true = self.inflow_l_s()
        chance = self.rng.normal(0, np.sqrt(max(self.use_l_s, 0) * _DRAW_L / NIGHT.step_s))
        return max(float((true + chance) * self.error * (1 + self.rng.normal(0, 0.003))), 0), true


def tested(
    trial: LeakTrial, plan: StepPlan, rng: np.random.Generator
) -> tuple[pd.DataFrame, list[float], float]:
    """Table STEP_TESTS of the plan carried out on the true zone, the true fall of the mean inflow
    at each step, and what is left of it."""
    zone = Stepped(trial, rng)
    day = trial.hourly_flows["day"].max()
    falls: list[float] = []
    rows = []
    before = np.nan
    for action in plan.plan.itertuples():
        if action.action == "reopen":
            break
        if action.valve_id:
            zone.shut(action.valve_id)
        at = pd.Timestamp(f"{day:%Y-%m-%d}T{action.local_time}Z") + pd.Timedelta(minutes=14)
        flow, true = zone.read_l_s()
        falls += [before - true] if action.action == "step" else []
        before = true
        rows.append(("T1", at, action.valve_id or None, flow, np.nan))
    return pd.DataFrame(rows, columns=[*STEP_TESTS.names()]), falls, before


def night_flow_l_s(trial: LeakTrial) -> float:
    """Inflow of the zone by night since the leak began, as its meters read it."""
    flows = trial.hourly_flows
    own = flows["device_id"].isin(trial.network.boundaries["meter_id"])
    since = pd.to_datetime(flows["day"]) > trial.first
    night = flows[own & since & flows["hour"].isin((2, 3))]
    return float(night.groupby(["day", "hour"])["flow_l_s"].sum().mean())


def _seen(step_tests: pd.DataFrame) -> Seen:
    return Seen(
        surveys=empty(SURVEYS),
        step_tests=step_tests,
        correlations=empty(CORRELATIONS),
        sightings=empty(SIGHTINGS),
        alarms=empty(ALARMS),
        acoustic_nights=empty(ACOUSTIC_NIGHTS),
    )


def _located(trial: LeakTrial, heard: Heard, step_tests: pd.DataFrame | None = None) -> Location:
    return locate_leaks(
        trial.network,
        trial.breaks,
        trial.zones,
        trial.events,
        settings=trial.settings,
        year=trial.year,
        heard=heard,
        seen=None if step_tests is None else _seen(step_tests),
    )


def outcome(setting: Setting) -> list[dict[str, Any]]:
    """A row a trial: what is left to listen to before the test, after the plan's, and after one of
    equal lengths."""
    return [_outcome(setting, number, trial) for number, trial in enumerate(drawn(setting))]


def _outcome(setting: Setting, number: int, trial: LeakTrial) -> dict[str, Any]:
    rng = np.random.default_rng([20250607, setting.seed, number])
    true = trial
    network, _ = valved(trial.network, rng)
    trial = replace(trial, network=network)
    heard = heard_by(trial)
    before = _located(trial, heard)
    sets = before.search_sets.iloc[0]
    own = before.likelihood[before.likelihood["cell_id"] == ZONE].set_index("pipe_id")
    segments = segments_of(network, settings=trial.settings)
    flow = (float(sets[f"flow_l_s{end}"]) for end in ("", "_low", "_high"))
    sought = Sought(*flow, night_flow_l_s(trial))
    found: dict[str, Any] = {
        "leak_l_s": setting.leak_l_s,
        "loggers": setting.loggers_count,
        "pipes": len(trial.network.pipes),
        "segments": len(segments.table),
        **{f"before {k}": v for k, v in searched(before, trial).items()},
    }
    ways = {"plan": own["probability_share"], "equal": own["length_m"]}
    for way, probability in ways.items():
        begun = clock.process_time()
        plan = plan_step_test(
            network,
            segments,
            ZONE,
            probability_share=probability,
            sought=sought,
            night=NIGHT,
            settings=trial.settings,
            steps_count=STEPS,
        )
        found[f"{way} s"] = clock.process_time() - begun
        table, falls, left = tested(
            replace(true, network=true.network), plan, np.random.default_rng([7, setting.seed])
        )
        after = _located(trial, heard, table)
        found |= {f"{way} {k}": v for k, v in searched(after, trial).items()}
        found |= {f"{way} {k}": v for k, v in _falls(plan, trial, falls, left).items()}
        section = plan.pipes.set_index("pipe_id")["section_id"][trial.leaks["pipe_id"].iloc[0]]
        row = plan.sections.set_index("section_id").loc[section]
        found |= {
            f"{way} section_share": float(row["length_share"]),
            f"{way} valves": float((plan.plan["action"] == "prepare").sum()),
            f"{way} steps": float((plan.plan["action"] == "step").sum()),
        }
    return found


def _falls(plan: StepPlan, trial: LeakTrial, falls: list[float], left: float) -> dict[str, float]:
    """How often the fall to expect, with its limits, holds the true one."""
    section = plan.pipes.set_index("pipe_id")["section_id"][trial.leaks["pipe_id"].iloc[0]]
    held, off = [], []
    for row, fall in zip(plan.sections.to_dict("records"), [*falls, left], strict=True):
        name = "drop_with_l_s" if row["section_id"] == section else "drop_without_l_s"
        held.append(row[f"{name}_low"] <= fall <= row[f"{name}_high"])
        off.append(fall - row[name])
    return {"falls_held": float(np.mean(held)), "falls_off_l_s": float(np.mean(off))}


def outcomes(settings: list[Setting]) -> pd.DataFrame:
    """Table of the outcomes, a row a trial, by two processes at most."""
    os.environ["OMP_NUM_THREADS"] = os.environ["OPENBLAS_NUM_THREADS"] = "1"
    with ProcessPoolExecutor(PROCESSES, mp_context=get_context("spawn")) as pool:
        return pd.DataFrame([row for rows in pool.map(outcome, settings) for row in rows])
