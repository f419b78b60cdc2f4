"""Whether what the zone meters say can be: a wrong sign, unit or pulse shows here."""

from __future__ import annotations

import math

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


def unlikely_flows(
    daily: pd.DataFrame, night: pd.DataFrame, network: Network, files: Files
) -> list[Finding]:
    """Zones with less coming in than goes out or is used, and flows too fast for their pipe.

    `daily` and `night` are DAILY_VOLUMES and NIGHT_FLOWS of `schema.stored`; only whole days and
    nights count, and of those the median. `files` says what the files of some meters are called.
    Raises nothing.
    """
    whole = daily[daily["volume_m3"].notna() & (daily["coverage_share"] >= _WHOLE_DAY)]
    table = whole.pivot_table(index="day", columns="device_id", values="volume_m3", aggfunc="sum")
    flows = night.pivot_table(index="night", columns="device_id", values="flow_l_s")
    cells = network.cells
    return [
        *(
            found
            for cell in natural(cells.index[~cells["has_source"]])
            for found in _zone(cell, table, flows, network, files)
        ),
        *_speeds(table, network, files),
    ]


def _zone(
    cell: str, table: pd.DataFrame, flows: pd.DataFrame, network: Network, files: Files
) -> list[Finding]:
    bounds = network.boundaries
    down = bounds.loc[bounds["downstream_cell_id"] == cell, "meter_id"]
    up = bounds.loc[bounds["upstream_cell_id"] == cell, "meter_id"]
    meters = natural({*down, *up})
    if not meters or not set(meters) <= set(table.columns):
        return []
    days = table.dropna(subset=meters)
    if days.empty:
        return []
    net = days[list(down)].sum(axis=1) - days[list(up)].sum(axis=1)
    through = days[meters].abs().sum(axis=1)
    inside = network.meters.index[network.meters["cell_id"] == cell].intersection(days.columns)
    inflow_m3 = float(net.median())
    use_m3 = float(days[list(inside)].sum(axis=1).median())
    used = int(network.cells.at[cell, "connections_count"]) > 0
    said = places("meter", meters)

    def finding(got: str, expected: str, remedy: str) -> Finding:
        return Finding("warning", files(meters), f"zone {cell}", "", got, expected, remedy)

    if through.median() == 0 and used:
        return [
            finding(
                "no flow at all through its meters",
                "some, as the zone has connections",
                f"Check {said}: a dead logger writes zeros too",
            )
        ]
    slack_m3 = _SLACK_SHARE * float(through.median())
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
    if not set(meters) <= set(flows.columns):
        return []
    nights = flows.dropna(subset=meters)
    net_l_s = float((nights[list(down)].sum(axis=1) - nights[list(up)].sum(axis=1)).median())
    if net_l_s < -max(_SLACK_SHARE * float(nights[meters].abs().sum(axis=1).median()), _LEAST_L_S):
        return [
            finding(
                f"{brief(-net_l_s)} L/s more going out than coming in at night",
                "more coming in than going out",
                f"Check the sign of the readings of {said}, and whether a pipe brings in water "
                "past them",
            )
        ]
    return []


def _speeds(table: pd.DataFrame, network: Network, files: Files) -> list[Finding]:
    found = []
    bores = network.pipes["diameter_mm"]
    for meter in natural(network.boundaries["meter_id"]):
        pipe = network.meters.at[meter, "pipe_id"]
        if meter not in table.columns or pipe not in bores.index:
            continue
        flow_m3_s = float(table[meter].abs().median()) / _DAY_S
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
