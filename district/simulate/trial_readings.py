"""What the meters and loggers of a trial district report, reduced as the store reduces it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.results import Reduced
from district.schema.columns import empty
from district.schema.stored import ALARMS, DEVICE_QUALITY, HOURLY_PRESSURES
from district.simulate.trial_map import TrialMap
from district.simulate.trial_use import LIMIT, NIGHT, STEP_S, STEPS_A_DAY, Values
from district.simulate.trial_water import Water

LOGGER_LIMIT_M = 2.0
"""95 % limit of a logger's zone average, as the balance takes it: gauge, levels, head loss."""
_GAUGE_M = 0.8
_SEARCH_STEPS = 24
"""The lowest rolling hour is sought from 00:00 to 06:00."""


def draw_readings(
    rng: np.random.Generator,
    drawn: TrialMap,
    water: Water,
    *,
    edge_l_s: Values,
    off_share: Values,
    nights: pd.DatetimeIndex,
    under_registration: tuple[float, float],
) -> Reduced:
    """Tables of `schema.stored` of the whole record.

    Parameters: `edge_l_s` true flow of the zone meters, meters x T; `off_share` what a seeded
    fault adds to each of their readings, as a share, of the same shape; `under_registration`
    the mean share customers' meters miss and its relative 95 % limit.
    """
    zone_kind = drawn.edges["kind"].to_numpy()
    zone_step_l = _steps_l(rng, zone_kind, np.abs(edge_l_s).mean(axis=1))
    seen = edge_l_s * (1.0 + off_share) * _errors(rng, drawn.edges["error_percent"])
    zone_l_s = _shown(rng, seen, zone_kind, zone_step_l)
    zone_l_s = np.where(_missing(rng, len(zone_l_s), len(nights)), np.nan, zone_l_s)

    own = (drawn.users["role"] == "building").to_numpy()
    buildings = drawn.users[own]
    kind = np.full(len(buildings), "register", dtype=object)
    step_l = np.full(len(buildings), 10.0)
    passed = water.building_l_s * _errors(rng, buildings["error_percent"])
    building_l_s = _shown(rng, passed, kind, step_l)
    building_l_s = np.where(_missing(rng, len(passed), len(nights)), np.nan, building_l_s)

    customers = drawn.users[~own]
    mean, spread = under_registration
    low = 1.0 - mean * (1.0 + rng.normal() * spread / LIMIT)
    customer_m3 = water.customer_m3 * low * _errors(rng, customers["error_percent"])

    ids = np.concatenate([drawn.edges["meter_id"], buildings["meter_id"]])
    flows = np.concatenate([zone_l_s, building_l_s])
    by_day = flows.reshape(len(ids), len(nights), STEPS_A_DAY)
    volumes = [f.sum(axis=2) * STEP_S / 1000.0 for f in (by_day, np.abs(by_day))]
    daily = pd.concat(
        [
            _long(ids, nights, "day", volume_m3=volumes[0], gross_m3=volumes[1]),
            _long(
                customers["meter_id"].to_numpy(),
                nights,
                "day",
                volume_m3=customer_m3,
                gross_m3=customer_m3,
            ),
        ],
        ignore_index=True,
    )
    means = [f[:, :, NIGHT].mean(axis=2) for f in (by_day, np.abs(by_day))]
    night = _long(ids, nights, "night", flow_l_s=means[0], gross_l_s=means[1])
    kinds, steps = np.concatenate([zone_kind, kind]), np.concatenate([zone_step_l, step_l])
    return Reduced(
        quality=_quality(ids, kinds, steps, nights),
        night_flows=night.assign(window_h=2.0, coverage_share=1.0),
        night_minima=_minima(drawn, zone_l_s, nights),
        daily_volumes=daily.assign(coverage_share=1.0, spread_share=0.0),
        hourly_pressures=_pressures(rng, drawn, water, nights),
        alarms=empty(ALARMS),
    )


def _errors(rng: np.random.Generator, percent: pd.Series[Any]) -> Values:
    """What each meter reads of one true litre, a column: its limit is 1.96 deviations."""
    shares = percent.to_numpy(dtype=float) / 100.0
    return np.asarray(1.0 + rng.normal(size=len(shares)) * shares / LIMIT)[:, None]


def _steps_l(rng: np.random.Generator, kind: Any, mean_l_s: Values) -> Values:
    """Litres of a pulse or of a register's last digit; of a rate, what its last digit makes of
    15 minutes."""
    usual = np.where(mean_l_s < 1.0, 10.0, 100.0) * rng.choice([0.1, 1.0], len(mean_l_s))
    return np.where(kind == "electromagnetic", 0.01 * STEP_S, usual)


def _shown(rng: np.random.Generator, seen_l_s: Values, kind: Any, step_l: Values) -> Values:
    """Flow of every step as the meter tells it, L/s: whole steps passed, or a rounded rate."""
    step = step_l[:, None]
    start = rng.uniform(0.0, 1.0, step.shape) * step
    total = start + np.cumsum(seen_l_s * STEP_S, axis=1)
    counted = np.diff(np.floor(total / step), axis=1, prepend=0.0) * step
    noisy = seen_l_s + rng.normal(size=seen_l_s.shape) * (0.002 + 0.005 * np.abs(seen_l_s))
    rate = np.round(noisy * STEP_S / step) * step
    return np.where(np.asarray(kind == "electromagnetic")[:, None], rate, counted) / STEP_S


def _missing(rng: np.random.Generator, devices_count: int, nights_count: int) -> Any:
    """Devices x T: true in a few spells of up to three days without readings."""
    days = np.zeros((devices_count, nights_count), dtype=bool)
    for device in np.flatnonzero(rng.random(devices_count) < 0.4):
        first = int(rng.integers(0, nights_count))
        days[device, first : first + int(rng.integers(1, 4))] = True
    if nights_count:
        days[days.all(axis=1), 0] = False
    return np.repeat(days, STEPS_A_DAY, axis=1)


def _long(ids: Any, nights: pd.DatetimeIndex, day: str, **values: Values) -> pd.DataFrame:
    """Rows a device and day, of those that are known."""
    frame = pd.DataFrame(
        {
            "device_id": np.repeat(np.asarray(ids, dtype=object), len(nights)),
            day: np.tile(nights.to_numpy(), len(ids)),
        }
        | {name: table.ravel() for name, table in values.items()}
    )
    return frame.dropna().reset_index(drop=True)


def _minima(drawn: TrialMap, zone_l_s: Values, nights: pd.DatetimeIndex) -> pd.DataFrame:
    cells = drawn.cells.index
    into = cells.get_indexer(drawn.edges["downstream_cell_id"])
    out_of = cells.get_indexer(drawn.edges["upstream_cell_id"])
    net = np.zeros((len(cells), zone_l_s.shape[1]))
    for meter, flow in enumerate(zone_l_s):
        net[into[meter]] += flow
        if out_of[meter] >= 0:
            net[out_of[meter]] -= flow
    early = net.reshape(len(cells), len(nights), STEPS_A_DAY)[:, :, :_SEARCH_STEPS]
    hours = np.lib.stride_tricks.sliding_window_view(early, 4, axis=2).mean(axis=3)
    lowest = hours.min(axis=2)
    table = _long(cells.to_numpy(), nights, "night", minimum_night_flow_l_s=lowest)
    after = pd.to_timedelta(hours.argmin(axis=2).ravel()[np.isfinite(lowest.ravel())] * STEP_S, "s")
    start = (pd.DatetimeIndex(table["night"]) + after).as_unit("us").tz_localize("UTC")
    return table.rename(columns={"device_id": "cell_id"}).assign(start_utc=start)


def _pressures(
    rng: np.random.Generator, drawn: TrialMap, water: Water, nights: pd.DatetimeIndex
) -> pd.DataFrame:
    cells, loggers = drawn.cells.index, drawn.loggers
    if not len(loggers):
        return empty(HOURLY_PRESSURES)
    at = cells.get_indexer(loggers["cell_id"])
    ground = drawn.cells["elevation_m"].to_numpy()[at] - loggers["elevation_m"].to_numpy(float)
    # The gauge's own error and that of its place add up to the stated limit.
    place = np.sqrt((LOGGER_LIMIT_M / LIMIT) ** 2 - _GAUGE_M**2)
    off = rng.normal(size=len(at)) * np.hypot(_GAUGE_M, place)
    # A place at the edge sees more of the head loss than the average one, one at the inlet less.
    more = rng.uniform(-0.15, 0.15, len(at))[:, None, None] * water.loss_m[at]
    shown = water.pressure_m[at] + (ground + off)[:, None, None] - more
    shown = np.round(shown + rng.normal(0.0, 0.1, shown.shape), 1)
    lost = _missing(rng, len(at), len(nights))[:, ::STEPS_A_DAY]
    shown[lost] = np.nan
    frame = pd.DataFrame(
        {
            "device_id": np.repeat(loggers["sensor_id"].to_numpy(), 24 * len(nights)),
            "day": np.tile(np.repeat(nights.to_numpy(), 24), len(at)),
            "hour": np.tile(np.arange(24.0), len(at) * len(nights)),
            "pressure_m": shown.ravel(),
        }
    )
    return frame[frame["pressure_m"].notna()].reset_index(drop=True)


def _quality(ids: Any, kinds: Any, steps_l: Values, nights: pd.DatetimeIndex) -> pd.DataFrame:
    first = nights[0].tz_localize("UTC")
    frame = pd.DataFrame(
        {
            "device_id": np.asarray(ids, dtype=object),
            "kind": kinds,
            "source": "trial",
            "first_utc": first,
            "last_utc": first + pd.Timedelta(days=len(nights)),
            "step_h": STEP_S / 3600.0,
            "resolution_m3": steps_l / 1000.0,
        }
    )
    counts = [n for n in DEVICE_QUALITY.names() if n.endswith("_count")]
    shares = {"missing_share": 0.0, "unusable_share": 0.0}
    rows = float(len(nights) * STEPS_A_DAY)
    own = {"readings_count": rows, "expected_count": rows}
    frame = frame.assign(**dict.fromkeys(counts, 0.0) | shares | own)
    return frame[list(DEVICE_QUALITY.names())]
