"""What the pressure loggers heard of the open leaks, and a model of the pipes fitted to it.

Between the store and the rooms that reckon, like `ingest`.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import pandas as pd

from district import store
from district.errors import StageError
from district.hydraulics import calibrate, draw_model, hourly_demands
from district.locate import Heard, Seen, days_wanted
from district.network import Network, edges_with_tanks
from district.results import Inputs, Reduced
from district.settings import Settings

MOST_VALUES = 60_000_000
"""Most flows by node and hour that are held at once, about half a gigabyte. Of more days, those of
the latest leaks; a leak whose days are not among them is located without pressure."""
USUAL_DAYS = 28
"""Without a leak, the latest days that tell how well the loggers are explained."""
_FEWEST_QUIET_DAYS = 7
_LEAKING = (
    f"Fewer than {_FEWEST_QUIET_DAYS} days before the open leaks were read: the model of the pipes "
    "is fitted with them running, and may take part of what they do for rough pipes."
)
_L_S_M3_D = 1000.0 / 86_400.0


def heard_by_loggers(
    network: Network,
    reduced: Reduced,
    zones: pd.DataFrame,
    events: pd.DataFrame,
    *,
    place: Path,
    last: date,
    settings: Settings,
) -> tuple[Heard | None, str]:
    """The model of the pipes, fitted to the loggers, on the days the open leaks are judged by.

    Parameters: `zones` table ZONES, `events` table EVENTS, `place` where the readings are kept,
    `last` the latest night balanced. Result: the model and what limits it in a sentence, '' if
    nothing; None, and why, where there is no logger or no model can be made. Raises
    `StoreError` if what is kept is damaged.
    """
    loggers = network.sensors[network.sensors["kind"] == "pressure"]
    if loggers.empty or reduced.hourly_pressures.empty:
        return None, "No pressure logger was read: the search goes by balance and prior alone."
    days = _days(events, last, nodes_count=len(network.nodes))
    flows = store.hourly_flows(
        place,
        devices=[*edges_with_tanks(network)["meter_id"], *_users(network)],
        days=days,
        zone=settings.zone_info(),
    )
    pressures = reduced.hourly_pressures
    pressures = pressures[pressures["day"].isin(days)]
    by_cell = zones.set_index("cell_id")
    try:
        drawn = draw_model(network, settings=settings, pressures=pressures, year=last.year)
    except StageError as reason:
        return None, f"No model of the pipes can be made: {reason}"
    demands = hourly_demands(
        network,
        drawn,
        flows,
        settings=settings,
        leakage_l_s=by_cell["background_l_s"].astype(float),
        pressure_m=by_cell["pressure_m"].astype(float),
        billed_l_s=_mean_use_l_s(reduced.daily_volumes),
        days=set(days),
    )
    read = days[days.isin(demands.hours["day"]) & days.isin(pressures["day"])]
    quiet = _quiet(read, events)
    fitted = calibrate(drawn, demands, pressures, days=quiet)
    limit = _LEAKING if quiet is None and not fitted.reason else ""
    return Heard(fitted, demands, pressures), limit


def seen_in_the_field(inputs: Inputs, reduced: Reduced) -> Seen:
    """What crews, sensors and the public told."""
    return Seen(
        surveys=inputs.surveys,
        step_tests=inputs.step_tests,
        correlations=inputs.correlations,
        sightings=inputs.sightings,
        alarms=reduced.alarms,
        acoustic_nights=reduced.acoustic_nights,
    )


def _days(events: pd.DataFrame, last: date, *, nodes_count: int) -> pd.DatetimeIndex:
    wanted = days_wanted(events, last=last)
    usual = pd.date_range(end=pd.Timestamp(last), periods=USUAL_DAYS, freq="D")
    most = max(USUAL_DAYS, MOST_VALUES // (24 * max(nodes_count, 1)))
    return pd.DatetimeIndex((wanted if len(wanted) else usual)[-most:])


def _quiet(days: pd.DatetimeIndex, events: pd.DataFrame) -> set[pd.Timestamp] | None:
    """Of the days that were read those before every open leak, as a running leak would be taken
    for rough pipes; None, for all of them, where these are too few."""
    running = events[(events["place_kind"] == "zone") & (events["state"] == "open")]
    starts = pd.to_datetime(running["start_low"].fillna(running["start"])).dropna()
    if starts.empty:
        return set(days)
    quiet = days[days < starts.min()]
    return set(quiet) if len(quiet) >= _FEWEST_QUIET_DAYS else None


def _users(network: Network) -> list[str]:
    named = network.connections["meter_id"].dropna().astype(str)
    return sorted(set(named[named != ""]))


def _mean_use_l_s(daily: pd.DataFrame) -> pd.Series[Any]:
    """Mean flow of each meter over its whole days, by device_id."""
    whole = daily[daily["coverage_share"] > 0]
    by_meter = whole.groupby("device_id", observed=True)[["volume_m3", "coverage_share"]].sum()
    return by_meter["volume_m3"] / by_meter["coverage_share"] * _L_S_M3_D
