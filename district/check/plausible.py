"""Whether what the zone meters say can be: a wrong sign, unit or pulse shows here."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd

from district.check.wording import Files
from district.errors import Finding
from district.network import Network
from district.words import brief, natural, places

_FASTEST_M_S = 3.0
"""Common practice, no source: mains are laid for less, even at the busiest hour."""
_SLACK_SHARE = 0.05
"""Meter errors may turn a balance by this share of what passes through its meters."""
_USE_SHARE = 0.9
_LEAST_L_S = 0.01
_WHOLE_DAY = 0.999
_DAY_S = 86_400.0
Array = npt.NDArray[np.float64]
Columns = dict[str, Array]
"""Values by device, all on the same dates."""


def unlikely_flows(
    daily: pd.DataFrame, night: pd.DataFrame, network: Network, files: Files
) -> list[Finding]:
    """Zones with less coming in than goes out or is used, and flows too fast for their pipe.

    `daily` and `night` are DAILY_VOLUMES and NIGHT_FLOWS of `schema.stored`; only whole days and
    nights count, and of those the median. `files` says what the files of some meters are called.
    Raises nothing.
    """
    cells, bounds = network.cells, network.boundaries
    whole = daily["volume_m3"].notna() & (daily["coverage_share"] >= _WHOLE_DAY)
    volumes = _by_device(daily, "day", "volume_m3", among=whole)
    at_zones = night["device_id"].isin(bounds["meter_id"])
    flows = _by_device(night, "night", "flow_l_s", among=at_zones & night["flow_l_s"].notna())
    down = bounds["meter_id"].groupby(bounds["downstream_cell_id"]).agg(list)
    up = bounds["meter_id"].groupby(bounds["upstream_cell_id"]).agg(list)
    inside = {c: list(ids) for c, ids in network.meters.groupby("cell_id").groups.items()}
    return [
        *(
            found
            for cell in natural(cells.index[~cells["has_source"]])
            for found in _zone(
                cell,
                down.get(cell, []),
                up.get(cell, []),
                inside.get(cell, []),
                volumes,
                flows,
                network,
                files,
            )
        ),
        *_speeds(volumes, network, files),
    ]


def _by_device(table: pd.DataFrame, date: str, value: str, *, among: pd.Series[bool]) -> Columns:
    """Values of each device on every date of any of them, empty where it has none, of some rows."""
    # Column by column: of a table of years not all is copied.
    ids = table["device_id"].astype("category").cat
    codes, on = ids.codes.to_numpy(), table[date].to_numpy()
    told = table[value].to_numpy(dtype=float)
    if not among.all():
        chosen = among.to_numpy()
        codes, on, told = codes[chosen], on[chosen], told[chosen]
    held = np.bincount(codes, minlength=len(ids.categories)) > 0
    down, dates = pd.factorize(on, sort=True)
    # A device's dates lie side by side, as each is looked at on its own.
    values = np.full((int(held.sum()), len(dates)), np.nan)
    values[(np.cumsum(held) - 1)[codes], down] = told
    return {str(device): own for device, own in zip(ids.categories[held], values, strict=True)}


def _net(
    values: Columns, down: Sequence[str], up: Sequence[str]
) -> tuple[Array, Array, npt.NDArray[np.bool_]]:
    """What comes in and what passes in all, on the dates on which every meter was read."""
    into, out_of = (np.array([values[m] for m in side]) for side in (down, up))
    both = np.array([values[m] for m in {*down, *up}])
    known = ~np.isnan(both).any(axis=0)
    net = sum(
        side[:, known].sum(axis=0) * sign for side, sign in ((into, 1), (out_of, -1)) if len(side)
    )
    return np.asarray(net), abs(both[:, known]).sum(axis=0), known


def _zone(
    cell: str,
    down: Sequence[str],
    up: Sequence[str],
    inside: Sequence[str],
    volumes: Columns,
    flows: Columns,
    network: Network,
    files: Files,
) -> list[Finding]:
    meters = natural({*down, *up})
    if not meters or not set(meters) <= volumes.keys():
        return []
    net, through, known = _net(volumes, down, up)
    if not known.any():
        return []
    used_m3 = [volumes[m][known] for m in inside if m in volumes]
    inflow_m3 = float(np.median(net))
    use_m3 = float(np.median(np.nansum(used_m3, axis=0))) if used_m3 else 0.0
    used = int(network.cells.at[cell, "connections_count"]) > 0
    said = places("meter", meters)

    def finding(got: str, expected: str, remedy: str) -> Finding:
        return Finding("warning", files(meters), f"zone {cell}", "", got, expected, remedy)

    if np.median(through) == 0 and used:
        return [
            finding(
                "no flow at all through its meters",
                "some, as the zone has connections",
                f"Check {said}: a dead logger writes zeros too",
            )
        ]
    slack_m3 = _SLACK_SHARE * float(np.median(through))
    if inflow_m3 < -slack_m3:
        return [
            finding(
                f"{brief(-inflow_m3)} m³ a day more going out than coming in",
                "more coming in than going out",
                f"Check downstream and the sign of the readings of {said}",
            )
        ]
    if inflow_m3 < _USE_SHARE * use_m3 - slack_m3:
        return [
            finding(
                f"{brief(inflow_m3)} m³ a day coming in, but {brief(use_m3)} m³ through the "
                "meters of its buildings and customers",
                "at least as much in as is used",
                f"Check reading_unit, litres_per_pulse and downstream of {said}, "
                "then those of the meters inside",
            )
        ]
    if not set(meters) <= flows.keys():
        return []
    net, through, known = _net(flows, down, up)
    if not known.any():
        return []
    net_l_s = float(np.median(net))
    if net_l_s < -max(_SLACK_SHARE * float(np.median(through)), _LEAST_L_S):
        return [
            finding(
                f"{brief(-net_l_s)} L/s more going out than coming in at night",
                "more coming in than going out",
                f"Check the sign of the readings of {said}, and whether a pipe brings in water "
                "past them",
            )
        ]
    return []


def _speeds(volumes: Columns, network: Network, files: Files) -> list[Finding]:
    found = []
    bores = network.pipes["diameter_mm"]
    for meter in natural(network.boundaries["meter_id"]):
        pipe = network.meters.at[meter, "pipe_id"]
        if meter not in volumes or pipe not in bores.index:
            continue
        flow_m3_s = float(np.nanmedian(abs(volumes[meter]))) / _DAY_S
        bore_mm = float(bores[pipe])
        speed_m_s = flow_m3_s / (math.pi / 4 * (bore_mm / 1000) ** 2)
        if speed_m_s > _FASTEST_M_S:
            found.append(
                Finding(
                    "warning",
                    files([meter]),
                    f"meter {meter}",
                    got=f"a usual flow of {brief(flow_m3_s * 1000)} L/s, which is "
                    f"{brief(speed_m_s)} m/s in its pipe of {bore_mm:.0f} mm",
                    expected=f"less than {_FASTEST_M_S:g} m/s",
                    remedy="Check reading_unit or litres_per_pulse of the meter, "
                    "then the diameter of the pipe",
                )
            )
    return found
