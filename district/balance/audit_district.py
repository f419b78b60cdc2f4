"""What the district's year is worked out from: its outer meters, and what its zones share."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.balance.annual import DISTRICT, YEAR_D
from district.balance.audit_inputs import METERS_LAYER, device_name
from district.balance.audit_leaves import Year, lines_of, single_leaves
from district.balance.audit_rows import Row
from district.balance.effects import REST, Effect, Traced, fitted, limits_of, pooled
from district.balance.metering import Metering
from district.balance.traded import selling
from district.balance.volumes import Volumes
from district.balance.year import counted_days
from district.estimates import Estimate
from district.network import Network
from district.settings import Settings


def district_of_year(
    network: Network,
    cells: Year,
    *,
    layout: Metering,
    volumes: Volumes,
    annual: pd.DataFrame,
    settings: Settings,
) -> Year:
    """The district, as the sum of the cells of the year."""
    lines = lines_of(annual, [DISTRICT])
    known = np.isfinite(lines_of(annual, cells.areas)["system_input"].value)
    rows: dict[str, dict[str, Row]] = {}
    leaves: dict[str, Traced] = {}
    counted = counted_days(volumes)
    sold = selling(network, layout, volumes, counted=counted, known=known)
    rows["system_input"], errors = _outer_meters(layout, volumes, known, sold)
    leaves["system_input"] = fitted(
        Traced(lines["system_input"].value, errors), lines["system_input"]
    )
    users = np.array([int(known[volumes.devices.cell].sum())])
    single_leaves(rows, leaves, lines, users=users, settings=settings)
    inputs: dict[str, Row] = {}
    for key, one in (("bottom_up", "zone meters at night"), ("billed_unmetered", "")):
        leaf = pooled(_among(cells.leaves[key], known), lines[key], same=_same)
        leaves[key] = leaf
        for name in leaf.effects.keys() - {REST}:
            inputs[name] = _pooled_row(name, cells.inputs, known, one)
    rows["bottom_up"] = {
        "zones": Row("sum of the zones'", "derived", "m³", lines["bottom_up"].value, operation="+")
    }
    rows["billed_unmetered"] = {
        k: inputs[k] for k in leaves["billed_unmetered"].effects if k != REST
    }
    least = _among(cells.least, known)
    whole_least = limits_of(least)
    total = Estimate(*(np.array([np.nansum(x)]) for x in whole_least))
    trace = pooled(least, total, same=_same)
    inputs |= {key: row for one in rows.values() for key, row in one.items()}
    inputs["pressure"] = _pooled_row("pressure", cells.inputs, known, "")
    km = np.array([cells.km[known].sum()])
    taps = np.array([cells.connections[known].sum()])
    zones = Row("sum of the zones'", "derived", "m³", trace.value, operation="+")
    return Year([DISTRICT], leaves, rows, inputs, trace, {"zones": zones}, km, taps)


def _outer_meters(
    layout: Metering, volumes: Volumes, known: Any, sold: Any
) -> tuple[dict[str, Row], dict[str, Effect]]:
    """Volumes of the meters at the outer edge of the known cells, save those through which water
    is `sold` (true by meter); inner ones cancel, save for days that only one of their two cells
    knows."""
    counted = counted_days(volumes)
    inside = np.flatnonzero(known)
    means = np.asarray(
        volumes.edge_means_m3_d(layout, counted=counted)[inside].sum(axis=0)
    ).ravel() * float(YEAR_D)
    errors = np.asarray(
        volumes.edge_errors_m3_d(layout, counted=counted)[inside].sum(axis=0)
    ).ravel() * float(YEAR_D)
    rows, effects = {}, {}
    for meter, value, error, out in zip(layout.meters, means, np.abs(errors), sold, strict=True):
        if out or abs(value) + error <= 1e-9:
            continue
        key = f"meter:{meter}"
        rows[key] = Row(
            device_name(layout, meter),
            "measured",
            "m³",
            np.array([value]),
            np.array([value - error]),
            np.array([value + error]),
            METERS_LAYER,
            "+",
        )
        effects[key] = (np.array([error]), np.array([error]))
    return rows, effects


def _among(leaf: Traced, known: Any) -> Traced:
    """The leaf over the cells that count."""
    shape = leaf.value.shape
    there = known & np.isfinite(leaf.value)
    return Traced(
        leaf.value[there],
        {
            k: (np.broadcast_to(d, shape)[there], np.broadcast_to(u, shape)[there])
            for k, (d, u) in leaf.effects.items()
        },
    )


def _same(key: str) -> str:
    """Night meters of several zones are one input of the district."""
    return "night meters" if key.startswith("meter:") else key


def _pooled_row(key: str, inputs: dict[str, Row], known: Any, meters: str) -> Row:
    """An input of several zones as one of the district; amounts add, settings stay."""
    if key == "night meters":
        return Row(f"{meters}, of all zones", "measured", "L/s", np.nan, source="readings")
    one = inputs[key]
    name, kind, source = (np.asarray(x, dtype=object) for x in (one.input, one.kind, one.source))
    values = [np.broadcast_to(np.asarray(x, dtype=float), known.shape)[known] for x in
              (one.value, one.low, one.high)]  # fmt: skip
    adds = key.startswith("day:")
    value, low, high = (np.array([np.nansum(v)]) if adds else np.nan for v in values)
    words = str(name.flat[0]) if name.size == 1 else _words_of(key)
    return Row(
        words,
        str(kind.flat[0]) if kind.size == 1 else "derived",
        one.unit,
        value,
        low,
        high,
        str(source.flat[0]) if source.size == 1 else "as in the zones",
        "+" if adds else "",
    )


def _words_of(key: str) -> str:
    period, _, of = key.partition(":")
    told = {
        "scatter": "scatter of the nights of all zones",
        "factor": "night-to-day factor of all zones",
        "pressure": "average zone pressure of all zones",
    }
    return told.get(key, f"{period} use of {of} properties without a meter" if of else key)
