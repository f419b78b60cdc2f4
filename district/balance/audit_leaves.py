"""What the lines of the annual balance that no other line makes are worked out from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from district.balance.annual import LINES, YEAR_D
from district.balance.audit_background import unavoidable_figure
from district.balance.audit_inputs import (
    METERS_LAYER,
    factor_row,
    interval_use,
    mean,
    night_meters,
    pressure_row,
    use_parts,
    volume_rows,
)
from district.balance.audit_rows import Row, link
from district.balance.effects import (
    Traced,
    fitted,
    through,
    traced,
)
from district.balance.grids import estimate_in, wide, wide_estimate
from district.balance.metering import Metering
from district.balance.night import NightBalance
from district.balance.performance import year_pressure
from district.balance.summary import nights_of_year
from district.balance.traded import selling
from district.balance.volumes import Volumes
from district.balance.year import counted_days
from district.estimates import Z_95, Estimate, multiply_limits, scaled
from district.network import Network
from district.settings import Settings
from district.units import M3_PER_L_S_H
from district.words import whole

DERIVED = ("sum", "difference")
WORDS = {key: words for key, _, words, _ in LINES}
SHARES = {
    "unbilled_unmetered": "unbilled_unmetered_share",
    "unauthorised": "unauthorised_share",
}
"""Lines that are a share of system input, and the setting that says it."""
ASSUMED = {
    **SHARES,
    "meter_error": "customer_under_registration_share",
    "data_error": "data_handling_share",
}
"""Lines nobody measures, and their setting under [annual]."""


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
    """The lines of table ANNUAL by key, over the areas; NaN where the table has them not."""
    nothing = annual.iloc[:0].set_index("cell_id")
    by_words = {str(n): g.set_index("cell_id") for n, g in annual.groupby("component", sort=False)}

    def line(words: str) -> Estimate:
        frame = by_words.get(words, nothing).reindex(areas)
        return estimate_in(frame, "volume_m3")

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
        layout,
        volumes,
        counted,
        days_count=float(YEAR_D),
        unit="m³",
        without=selling(network, layout, volumes, counted=counted, known=counted.any(axis=0)),
    )
    leaves["system_input"] = Traced(lines["system_input"].value, errors)
    rows["billed_unmetered"], spread = use_parts(
        volumes.unmetered.parts, period="day", unit="m³", days_count=float(YEAR_D), operation="+"
    )
    leaves["billed_unmetered"] = Traced(lines["billed_unmetered"].value, spread)
    users = np.bincount(volumes.devices.cell, minlength=len(cells))
    single_leaves(rows, leaves, lines, users=users, settings=settings)
    rests_on = wide(pressures, "rests_on", cells)[-1]
    leaves["bottom_up"], inputs, rows["bottom_up"] = _bottom_up(
        layout, night, lines["bottom_up"], rests_on
    )
    leaves = {key: fitted(leaf, lines[key]) for key, leaf in leaves.items()}
    pressure = year_pressure(pressures, cells, cells=cells)
    sizes = network.cells.reindex(cells)
    least, trace = unavoidable_figure(sizes, pressure, name="", days_count=float(YEAR_D))
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


def single_leaves(
    rows: dict[str, dict[str, Row]],
    leaves: dict[str, Traced],
    lines: dict[str, Estimate],
    *,
    users: Any,
    settings: Settings,
) -> None:
    """Put in the leaves that are one input each: users' meters (`users` by area) and what is
    assumed, which is a share of system input where a setting says so."""
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
        source = f"[annual] {ASSUMED[key]} in district.toml" if key in ASSUMED else "as told"
        source = METERS_LAYER if rests == "measured" else source
        share, spread = SHARES.get(key), settings.annual.assumed_spread_share
        if share is None:
            kind = rests if rests in ("measured", "allowance", "assumed") else "derived"
            told = f"{words}, {kind}"
            rows[key] = {key: Row(told, kind, "m³", *lines[key], source=source, operation="+")}
            continue
        value = float(getattr(settings.annual, share))
        low, high = value * max(0.0, 1 - spread), value * (1 + spread)
        rows[key] = {
            "of": link(WORDS["system_input"], lines["system_input"], unit="m³", operation="+"),
            key: Row(f"{words}, as a share", "assumed", "", value, low, high, source, "×"),
        }


def _bottom_up(
    layout: Metering, night: NightBalance, shown: Estimate, rests_on: Any
) -> tuple[Traced, dict[str, Row], dict[str, Row]]:
    """Real losses from the year's nights, followed to their inputs; these; and its own rows."""
    cells = layout.cells
    chosen = nights_of_year(night.nights, cells)
    average = mean(chosen)
    inputs, effects = night_meters(night, average)
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
    inputs["factor"] = factor_row(factor, rests_on)
    daily = through(
        lambda leak, hours: scaled(multiply_limits(leak, hours), M3_PER_L_S_H * YEAR_D),
        Traced(flow, effects),
        traced("factor", factor),
    )
    scale = M3_PER_L_S_H * YEAR_D
    weighted = np.where(flow != 0, shown.value / np.where(flow != 0, flow * scale, 1.0), 0.0)
    rows = {
        "flow": Row("night leakage, mean of the year's nights", "derived", "L/s", flow),
        "weighted": Row(
            "night-to-day factor, weighted by the nights' leakage", "derived", "h/day", weighted
        ),
        "m3": Row("m³ an hour by L/s", "derived", "", M3_PER_L_S_H),
        "days": Row("days", "counted", "", float(YEAR_D)),
    }
    rows = {k: replace(row, operation="+" if k == "flow" else "×") for k, row in rows.items()}
    return Traced(shown.value, daily.effects), inputs, rows
