"""What a step test read of each section, beside its length, its properties and its expected use."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.hydraulics.stepping import RISE_SHARE, Z
from district.locate.step_flows import beyond_use, expected_use, of_zone, read_steps
from district.network import Network
from district.network.ways import pipes_in_order
from district.schema.columns import empty
from district.schema.step_tables import STEP_SECTIONS
from district.settings import Settings
from district.words import brief, figure, plural

_L_H = 3600.0


def step_results(
    network: Network,
    cell_id: str,
    step_tests: pd.DataFrame,
    *,
    settings: Settings,
    flow_l_s: float = np.nan,
    limit_l_s: float = 0.0,
) -> pd.DataFrame:
    """Table STEP_SECTIONS: every section that a step test of the zone tells of.

    `step_tests`: input table STEP_TESTS. The fall of the inflow at a step, less what the section
    would use anyway and with the rise of pressure in what stays open allowed for, is what leaks in
    it: compared by kilometre and by property. Limits hold the reading (as stated, else 2 % and the
    steps in which the meter counts, over the time between two readings), the use, and the rise. A
    section that feeds another zone is left out, as is one before which no flow was read.
    `flow_l_s`: of the leak looked for, known to `limit_l_s`, so that the zone's own inflow without
    it tells how much is used; NaN where it is not known.
    """
    tables = [
        _one(network, cell_id, test_id, rows, settings, flow_l_s, limit_l_s)
        for test_id, rows in of_zone(network, cell_id, step_tests)
    ]
    kept = [table for table in tables if len(table)]
    return pd.concat(kept, ignore_index=True) if kept else empty(STEP_SECTIONS)


def _one(
    network: Network,
    cell_id: str,
    test_id: str,
    rows: pd.DataFrame,
    settings: Settings,
    flow_l_s: float,
    limit_l_s: float,
) -> pd.DataFrame:
    steps, section, usable = read_steps(network, cell_id, rows)
    use = expected_use(
        network,
        steps,
        section,
        usable,
        flow_l_s=flow_l_s,
        limit_l_s=limit_l_s,
        settings=settings,
    )
    net, sd = beyond_use(steps, use)
    by_pipe = pd.Series(section, index=pipes_in_order(network).index)
    size = _sizes(network, by_pipe, len(net))
    day = rows["time"].iloc[0].tz_convert(settings.zone_info()).date()
    table = pd.DataFrame(
        {
            "test_id": test_id,
            "section_id": [str(n) for n in range(len(net))],
            "cell_id": cell_id,
            "day": pd.Timestamp(day),
            "valve_id": ["", *steps.valves],
            **size,
            **_limits("drop_l_s", steps.drop_l_s, Z * steps.sd_l_s),
            **_limits("use_l_s", use.use_l_s, Z * use.sd_l_s(), least=0.0),
            **_limits("beyond_l_s", net, Z * sd),
        }
    )
    for name, held in (("beyond_l_km_h", size["length_m"] / 1000),
                       ("beyond_l_property_h", size["properties_count"])):  # fmt: skip
        for end in ("", "_low", "_high"):
            table[f"{name}{end}"] = _by(table[f"beyond_l_s{end}"], held)
    table["shows"] = table["beyond_l_s_low"] > 0
    table["said"] = [_said(row) for row in table.to_dict("records")]
    # In the order in which they were shut, what stayed open last.
    order = [*range(1, len(net)), 0]
    return table.iloc[order][usable[order]][list(STEP_SECTIONS.names())]


def _sizes(network: Network, by_pipe: pd.Series[Any], count: int) -> dict[str, Any]:
    pipes, taps = network.pipes, network.connections
    number = by_pipe.reindex(pipes.index).to_numpy(dtype=np.int64)
    at = by_pipe.reindex(taps["pipe_id"]).fillna(-1).to_numpy(dtype=np.int64)
    own, held = number >= 0, at >= 0
    properties = taps["properties"].fillna(1).to_numpy(dtype=float)
    metres = pipes["length_m"].to_numpy(dtype=float)
    return {
        "length_m": np.bincount(number[own], metres[own], count).astype(float),
        "connections_count": np.bincount(at[held], minlength=count),
        "properties_count": np.bincount(at[held], properties[held], count).round().astype("int64"),
    }


def _limits(name: str, value: Any, half: Any, *, least: float = -np.inf) -> dict[str, Any]:
    low = np.maximum(value - half, least)
    return {name: value, f"{name}_low": low, f"{name}_high": value + half}


def _by(flow_l_s: Any, held: Any) -> Any:
    values = flow_l_s.to_numpy(dtype=float)
    return np.divide(_L_H * values, held, out=np.full(len(values), np.nan), where=held > 0)


def _said(row: dict[str, Any]) -> str:
    name = "beyond_l_s"
    took = figure(row[name], row[f"{name}_low"], row[f"{name}_high"], name)
    where = f"Section {row['section_id']}, behind {row['valve_id']}" if row["valve_id"] else (
        "What stayed open"
    )  # fmt: skip
    size = (
        f"{brief(row['length_m'])} m, "
        f"{plural(int(row['properties_count']), 'property', 'properties')}"
    )
    sure = "" if row["shows"] else ", which may be nothing"
    return f"{where} ({size}): {took} beyond its night use and background{sure}."


def step_assumed(tables: pd.DataFrame) -> tuple[str, ...]:
    """What table STEP_SECTIONS rests on, one sentence each; nothing where it is empty."""
    if tables.empty:
        return ()
    return (
        "Expected use is the allowance of the properties with background leakage by components, "
        "brought to the zone's inflow at the start less the leak that is looked for.",
        f"Each closure lets pressure rise in what stays open: a step is taken to be under-stated "
        f"by {brief(100 * RISE_SHARE)} % of the flow left, from nothing to twice that "
        "(assumption).",
    )
