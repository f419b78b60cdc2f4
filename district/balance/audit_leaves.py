"""What the lines of the annual balance that no other line makes are worked out from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.balance.annual import DISTRICT, LINES
from district.balance.audit_inputs import (
    factor_row,
    interval_use,
    mean,
    night_meters,
    pressure_row,
    use_parts,
    volume_rows,
)
from district.balance.audit_night import unavoidable_figure
from district.balance.audit_rows import Row
from district.balance.effects import (
    Traced,
    fitted,
    limits_of,
    pooled,
    through,
    traced,
)
from district.balance.grids import days_of, wide, wide_estimate
from district.balance.limits import Z_95, Estimate, multiply_limits, scaled
from district.balance.metering import Metering
from district.balance.night import NightBalance
from district.balance.summary import recent, usable_nights
from district.balance.volumes import Volumes
from district.balance.year import YEAR_D, counted_days
from district.network import Network
from district.settings import Settings
from district.units import M3_PER_L_S_H
from district.words import whole

DERIVED = ("sum", "difference")
WORDS = {key: words for key, _, words, _ in LINES}
ASSUMED = {
    "unbilled_metered": "none is told",
    "unbilled_unmetered": "[annual] unbilled_unmetered_share in district.toml",
    "unauthorised": "[annual] unauthorised_share in district.toml",
    "meter_error": "[annual] customer_under_registration_share in district.toml",
}


@dataclass(frozen=True, eq=False)
class Year:
    """The areas of the year (cells, or the district alone) and their leaves.

    `leaves` are the lines no other line makes, followed to their inputs; `rows` what each is
    worked out from; `inputs` what they share.
    """

    areas: Sequence[str]
    leaves: dict[str, Traced]
    rows: dict[str, dict[str, Row]]
    inputs: dict[str, Row]
    least: Traced
    least_rows: dict[str, Row]
    km: Any
    connections: Any


def lines_of(annual: pd.DataFrame, areas: Sequence[str]) -> dict[str, Estimate]:
    """The lines of table ANNUAL by key, over the areas."""
    by_words = {str(n): g.set_index("cell_id") for n, g in annual.groupby("component", sort=False)}

    def line(words: str) -> Estimate:
        frame = by_words[words].reindex(areas)
        return Estimate(*(frame[f"volume_m3{s}"].to_numpy(float) for s in ("", "_low", "_high")))

    return {key: line(words) for key, words in WORDS.items()}


def cells_of_year(
    network: Network,
    *,
    layout: Metering,
    night: NightBalance,
    volumes: Volumes,
    pressures: pd.DataFrame,
    annual: pd.DataFrame,
    settings: Settings,
) -> Year:
    """The balanced cells; those without a known day have no figures."""
    cells = layout.cells
    lines = lines_of(annual, list(cells))
    counted = counted_days(volumes)
    rows: dict[str, dict[str, Row]] = {}
    leaves: dict[str, Traced] = {}
    rows["system_input"], errors = volume_rows(
        layout, volumes, counted, days=float(YEAR_D), unit="m³"
    )
    leaves["system_input"] = Traced(lines["system_input"].value, errors)
    rows["billed_unmetered"], spread = use_parts(
        volumes.unmetered.parts, period="day", unit="m³", scale=float(YEAR_D), operation="+"
    )
    leaves["billed_unmetered"] = Traced(lines["billed_unmetered"].value, spread)
    users = np.bincount(volumes.devices.cell, minlength=len(cells))
    _alone(rows, leaves, lines, users)
    rests_on = wide(pressures, "rests_on", cells)[-1]
    leaves["bottom_up"], inputs = _bottom_up(layout, night, lines["bottom_up"], rests_on, settings)
    leaves = {key: fitted(leaf, lines[key]) for key, leaf in leaves.items()}
    year = days_of(pressures["day"])
    last = pressures[year > year.max() - pd.Timedelta(days=YEAR_D)] if len(year) else pressures
    metres = wide(last, "pressure_m", cells).mean(axis=0)
    spread_m = wide(last, "spread_m", cells).mean(axis=0)
    pressure = Estimate(metres, metres - spread_m, metres + spread_m)
    sizes = network.cells.reindex(cells)
    least, trace = unavoidable_figure(sizes, pressure, name="", days=float(YEAR_D))
    inputs |= {key: row for one in rows.values() for key, row in one.items()}
    inputs["pressure"] = pressure_row(pressure, rests_on)
    return Year(
        list(cells),
        leaves,
        rows,
        inputs,
        trace,
        dict(least.rows),
        sizes["mains_km"].to_numpy(float),
        sizes["connections_count"].to_numpy(float),
    )


def _alone(
    rows: dict[str, dict[str, Row]],
    leaves: dict[str, Traced],
    lines: dict[str, Estimate],
    users: Any,
) -> None:
    """Leaves that are one input each: users' meters and what is assumed."""
    count = np.broadcast_to(users, lines["billed_metered"].value.shape)
    named = [f"meters of users with readings ({whole(n)})" for n in count]
    leaves["billed_metered"] = traced("users", lines["billed_metered"])
    rows["billed_metered"] = {
        "users": Row(
            np.array(named, dtype=object), "measured", "m³", *lines["billed_metered"],
            source="readings; error by the meters layer (error_percent)", operation="+",
        )
    }  # fmt: skip
    for key, _, words, rests in LINES:
        if key in leaves or rests in DERIVED or key == "bottom_up":
            continue
        leaves[key] = traced(key, lines[key])
        source = ASSUMED.get(key, "district.toml")
        row = Row(words, "assumed", "m³", *lines[key], source=source, operation="+")
        rows[key] = {key: row}


def _bottom_up(
    layout: Metering, night: NightBalance, shown: Estimate, rests_on: Any, settings: Settings
) -> tuple[Traced, dict[str, Row]]:
    """Real losses from the year's nights, followed to their inputs."""
    cells = layout.cells
    chosen = recent(usable_nights(night.nights, cells), count=YEAR_D)
    average = mean(chosen)
    inputs, effects = night_meters(layout, night, average)
    allowed, spread = use_parts(night.allowed.parts, period="night", unit="L/s", operation="")
    use = wide(night.nights, "measured_use_l_s", cells)
    systematic = wide(night.spreads, "measured_use_systematic_l_s", cells)
    row, effect = interval_use(night, use, average, systematic=systematic, operation="")
    count = np.maximum(chosen.sum(axis=0), 1)
    random = Z_95 * average(wide(night.spreads, "leakage_random_l_s", cells)) / np.sqrt(count)
    inputs |= {**allowed, "interval": row}
    named = np.array([f"scatter of {whole(n)} nights" for n in chosen.sum(axis=0)], dtype=object)
    inputs["scatter"] = Row(named, "measured", "L/s", 0.0, -random, random, "readings")
    effects |= {**spread, "interval": effect, "scatter": (random, random)}
    flow = average(wide(night.nights, "leakage_l_s", cells))
    factor = Estimate(
        *(average(x) for x in wide_estimate(night.nights, "night_day_factor_h_d", cells))
    )
    inputs["factor"] = factor_row(factor, rests_on, settings)
    daily = through(
        lambda leak, hours: scaled(multiply_limits(leak, hours), M3_PER_L_S_H * YEAR_D),
        Traced(flow, effects),
        traced("factor", factor),
    )
    return Traced(shown.value, daily.effects), inputs


def district_of_year(
    cells: Year, *, layout: Metering, volumes: Volumes, annual: pd.DataFrame
) -> Year:
    """The district, as the sum of the cells of the year."""
    lines = lines_of(annual, [DISTRICT])
    known = np.isfinite(lines_of(annual, cells.areas)["system_input"].value)
    rows: dict[str, dict[str, Row]] = {}
    leaves: dict[str, Traced] = {}
    rows["system_input"], errors = _outer_meters(layout, volumes, known)
    leaves["system_input"] = fitted(
        Traced(lines["system_input"].value, errors), lines["system_input"]
    )
    _alone(rows, leaves, lines, np.array([int(known[volumes.devices.cell].sum())]))
    inputs: dict[str, Row] = {}
    for key, one in (("bottom_up", "zone meters at night"), ("billed_unmetered", "")):
        leaf = pooled(_among(cells.leaves[key], known), lines[key], same=_same)
        leaves[key] = leaf
        for name in leaf.effects:
            inputs[name] = _pooled_row(name, cells.inputs, known, one)
    rows["billed_unmetered"] = {k: inputs[k] for k in leaves["billed_unmetered"].effects}
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
    layout: Metering, volumes: Volumes, known: Any
) -> tuple[dict[str, Row], dict[str, tuple[Any, Any]]]:
    """Volumes of the meters at the outer edge of the known cells; inner ones cancel."""
    counted = counted_days(volumes)
    inside = np.flatnonzero(known)
    means = np.asarray(
        volumes.edge_means_m3_d(layout, counted=counted)[inside].sum(axis=0)
    ).ravel() * float(YEAR_D)
    errors = np.asarray(
        volumes.edge_errors_m3_d(layout, counted=counted)[inside].sum(axis=0)
    ).ravel() * float(YEAR_D)
    rows, effects = {}, {}
    for meter, value, error in zip(layout.meters, means, np.abs(errors), strict=True):
        if abs(value) + error <= 1e-9:
            continue
        key = f"meter:{meter}"
        rows[key] = Row(
            f"zone meter {meter}",
            "measured",
            "m³",
            np.array([value]),
            np.array([value - error]),
            np.array([value + error]),
            "readings; error by the meters layer (error_percent, plate)",
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
