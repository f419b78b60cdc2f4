"""Leaks in zones of our own invention, with hydraulics: what location receives, and the truth."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.hydraulics import Model, Openings
from district.hydraulics.model import Reals
from district.network import Network
from district.settings import Settings
from district.simulate.leak_trial_bores import with_bores
from district.simulate.leak_trial_hazard import draw_breaks, draw_hazard, draw_places
from district.simulate.leak_trial_map import YEAR, ZoneMap, along, furnish
from district.simulate.leak_trial_network import (
    WrongValve,
    draw_wrong_valve,
    gis_pipes,
    network_of_zone,
)
from district.simulate.leak_trial_readings import event_of, read_flows, read_pressures, zone_of
from district.simulate.leak_trial_streets import draw_streets_of_zone
from district.simulate.leak_trial_use import HOURS, draw_use, reference_use, wander
from district.simulate.leak_trial_water import (
    Hours,
    leaking,
    single_hours,
    solved_hours,
)
from district.simulate.leak_trial_zone import TrueZone, true_zone

_NIGHT_HOURS = (2, 3)
_OFFSET_SPREAD_M = 0.8
"""Of what a logger reads too much for good, the level of its gauge included. Assumption."""
_PEAK_LOSS_M = (2.0, 15.0)


@dataclass(frozen=True, eq=False)
class LeakTrial:
    """One leak (or several at once) of one zone: what location receives, and the truth.

    network, breaks, zones, events, hourly_flows, hourly_pressures, settings, year
        tables BREAKS, ZONES, EVENTS, HOURLY_FLOWS and HOURLY_PRESSURES.
    leaks
        a row a leak: kind ('main' or 'service'), pipe_id, share along it, flow_l_s by night.
    first
        first night of the leak.
    roughness
        true Hazen-Williams C, in order of `network.pipes`.
    use_l_s
        true mean use, in order of `network.connections`.
    offset_m
        what each logger truly reads too much before the leak, level of its gauge included, by
        sensor_id.
    model
        the true zone, a node at the place of each leak drawn for it.
    openings
        what leaks at its nodes, this trial's leaks included.
    night_l_s
        mean use at its nodes in the night.
    valve
        the valve whose state is wrong in `network`, if any.
    peak_loss_m
        head lost in truth from feed to lowest logger in the hour of most use.
    """

    network: Network
    breaks: pd.DataFrame
    zones: pd.DataFrame
    events: pd.DataFrame
    hourly_flows: pd.DataFrame
    hourly_pressures: pd.DataFrame
    settings: Settings
    year: int
    leaks: pd.DataFrame
    first: pd.Timestamp
    roughness: Reals
    use_l_s: Reals
    offset_m: pd.Series[Any]
    model: Model
    openings: Openings
    night_l_s: Reals
    valve: WrongValve | None
    peak_loss_m: float


@dataclass(frozen=True, eq=False)
class _Scene:
    """What all trials of one zone share."""

    drawn: ZoneMap
    zone: TrueZone
    places: pd.DataFrame
    usual: Hours
    network: Network
    breaks: pd.DataFrame
    settings: Settings
    valve: WrongValve | None


def draw_leak_trials(
    seed: int,
    *,
    pipes_count: int = 500,
    loggers_count: int = 5,
    leak_l_s: float = 1.0,
    leaks_count: int = 1,
    loops_share: float = 0.17,
    metered_share: float = 0.02,
    offset_m: float = 0.0,
    wrong_valve: bool = False,
    trials_count: int = 1,
) -> tuple[LeakTrial, ...]:
    """Draw one zone and `trials_count` trials in it, each with its own leak, days and readings.

    Parameters: `leaks_count` leaks of `leak_l_s` by night start at once; `metered_share` of users
    have a meter read by the hour; from the leak's first night one logger reads `offset_m` too much;
    with `wrong_valve` the GIS has the state of one valve wrong.

    Leaks and breaks fall by one hidden hazard. The reference hours of weekday and weekend are
    solved exactly with and without the leak, true roughness, use, background and the leak's
    opening at its very place; single hours depart from them by first order. Leakage is that of the
    solved hour.
    """
    rng = np.random.default_rng([20250505, seed])
    settings = Settings()
    scene = _scene(
        rng,
        pipes_count=pipes_count,
        loggers_count=loggers_count,
        leaks_count=leaks_count * trials_count,
        leak_l_s=leak_l_s,
        loops_share=loops_share,
        metered_share=metered_share,
        wrong_valve=wrong_valve,
        settings=settings,
    )
    own = np.arange(leaks_count * trials_count).reshape(trials_count, leaks_count)
    return tuple(_trial(rng, scene, leaks, leak_l_s, offset_m) for leaks in own)


def _scene(
    rng: np.random.Generator,
    *,
    pipes_count: int,
    loggers_count: int,
    leaks_count: int,
    leak_l_s: float,
    loops_share: float,
    metered_share: float,
    wrong_valve: bool,
    settings: Settings,
) -> _Scene:
    streets = draw_streets_of_zone(
        rng,
        pipes_count=pipes_count,
        loops_share=loops_share,
        block_m=rng.uniform(35.0, 80.0),
        gates_count=1 + int(rng.random() < 0.35),
    )
    drawn = furnish(rng, streets, loggers_count=loggers_count, metered_share=metered_share)
    drawn = with_bores(drawn, peak_loss_m=float(np.exp(rng.uniform(*np.log(_PEAK_LOSS_M)))))
    hazard = draw_hazard(rng, drawn)
    breaks = draw_breaks(rng, drawn, hazard)
    places = draw_places(rng, drawn, hazard, count=leaks_count, flow_l_s=leak_l_s)
    valve = draw_wrong_valve(rng, drawn, apart=places["pipe"].to_numpy()) if wrong_valve else None
    head_m = float(np.round(drawn.nodes["elevation_m"].max() + rng.uniform(40.0, 60.0), 1))
    zone = true_zone(
        drawn,
        places,
        head_m=head_m + rng.normal(0.0, 0.3),
        background=settings.background,
        condition_factor_index=float(np.exp(rng.uniform(0.0, np.log(3.0)))),
        shut_pipe=valve.pipe if valve else -1,
    )
    usual = solved_hours(zone, reference_use(drawn), zone.background)
    network = network_of_zone(drawn, gis_pipes(rng, drawn), head_m=head_m, valve=valve)
    return _Scene(drawn, zone, places, usual, network, breaks, settings, valve)


def _trial(
    rng: np.random.Generator, scene: _Scene, leaks: Any, leak_l_s: float, offset_m: float
) -> LeakTrial:
    drawn, zone = scene.drawn, scene.zone
    first, after = int(rng.integers(14, 36)), int(rng.integers(10, 29))
    start = pd.Timestamp(f"{YEAR}-03-03") + pd.Timedelta(days=int(rng.integers(0, 200)))
    days = pd.date_range(start, periods=first + after, freq="D", unit="us")
    use = draw_use(rng, drawn, days)
    opened = leaking(zone, use.usual_l_s, leaks, np.full(len(leaks), leak_l_s))
    with_leak = solved_hours(zone, use.usual_l_s, opened, near=scene.usual)
    # It begins at some hour of the day before its first night.
    runs = np.arange(len(use.reference)) >= first * HOURS - rng.integers(0, HOURS)
    departure = use.drawn_l_s - use.usual_l_s[use.reference]
    running, usual = (
        single_hours(hours, use.reference, departure) for hours in (with_leak, scene.usual)
    )
    head, flow = (np.where(runs[:, None], *both) for both in zip(running, usual, strict=True))
    offset = rng.normal(0.0, _OFFSET_SPREAD_M, len(drawn.loggers))
    read = np.tile(offset, (len(head), 1))
    read[first * HOURS :, rng.integers(len(drawn.loggers))] += offset_m
    level = drawn.nodes["elevation_m"].to_numpy()
    pressure = head + _source_wander(rng, len(days))[:, None] - along(drawn, level, drawn.loggers)
    zone_flows = read_flows(rng, days, drawn.meters["meter_id"], flow)
    users = drawn.taps.loc[drawn.taps["meter_id"] != "", "meter_id"]
    inflow = zone_flows.groupby(["day", "hour"])["flow_l_s"].sum().to_numpy()
    events = event_of(rng, days, inflow, first)
    by_night = scene.usual.states[_NIGHT_HOURS[0]].head_m[: drawn.source] - level[: drawn.source]
    return LeakTrial(
        network=scene.network,
        breaks=scene.breaks,
        zones=zone_of(events, pressure_m=float(by_night.mean())),
        events=events,
        hourly_flows=pd.concat(
            [zone_flows, read_flows(rng, days, users, use.metered_l_s)], ignore_index=True
        ),
        hourly_pressures=read_pressures(rng, days, drawn.loggers["sensor_id"], pressure, read),
        settings=scene.settings,
        year=YEAR,
        leaks=_true_leaks(scene, leaks, with_leak),
        first=days[first],
        roughness=drawn.pipes["roughness_index"].to_numpy(),
        use_l_s=drawn.taps["mean_l_s"].to_numpy(),
        offset_m=pd.Series(offset, index=drawn.loggers["sensor_id"].to_numpy()),
        model=zone.model,
        openings=opened,
        night_l_s=np.append(
            use.usual_l_s[list(_NIGHT_HOURS)].mean(axis=0), np.zeros(len(zone.leak_node))
        ),
        valve=scene.valve,
        peak_loss_m=_peak_loss_m(scene, use.usual_l_s),
    )


def _true_leaks(scene: _Scene, leaks: Any, with_leak: Hours) -> pd.DataFrame:
    own = scene.places.iloc[leaks].reset_index(drop=True)
    return pd.DataFrame(
        {
            "kind": own["kind"],
            "pipe_id": scene.drawn.pipes.index.to_numpy()[own["pipe"]],
            "share": own["share"],
            "flow_l_s": with_leak.leak_l_s[list(_NIGHT_HOURS)].mean(axis=0)[leaks],
        }
    )


def _peak_loss_m(scene: _Scene, use_l_s: Reals) -> float:
    """Between the highest zone meter and the lowest logger in the hour of most use."""
    head = scene.usual.head_m[int(np.argmax(use_l_s.sum(axis=1)))]
    loggers = len(scene.drawn.loggers)
    return float(head[loggers + 1 :: 2].max() - head[:loggers].min())


def _source_wander(rng: np.random.Generator, days_count: int) -> Reals:
    """Head of the source about its mean, m, hour by hour: 0.15 by day, 0.05 by hour. Assumption."""
    by_day = wander(rng, 0.15, 0.7, (1, days_count))[0]
    return np.asarray(np.repeat(by_day, HOURS) + rng.normal(0.0, 0.05, days_count * HOURS))
