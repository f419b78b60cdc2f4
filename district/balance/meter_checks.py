"""What the reconciliation says of each zone meter, and what the balance is without a bad one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.balance.closing import Closing
from district.balance.equations import Equations
from district.balance.grids import days_of, wide
from district.balance.limits import MEDIAN_FACTOR
from district.balance.meter_errors import error_l_s
from district.balance.metering import Metering
from district.balance.naming import Fault, critical_index
from district.balance.night import NightBalance
from district.balance.summary import usable_nights
from district.balance.volumes import M3_D_PER_L_S
from district.estimates import Z_95, Array, Estimate, from_deviation
from district.schema.columns import empty
from district.schema.reconciled import METER_CHECKS, WITHOUT_METER
from district.words import day, percent, whole

LEAST_DAYS = 15
"""Days of night and day known in both cells before a change of a meter can be seen."""
LEAST_CHECKED = 0.1
"""Part of a meter's variance that the equations must remove to say anything of it."""
ALTOGETHER = float(np.log(20.0))
"""Log odds to name a meter by the recent record alone, without a day on which it changed."""


@dataclass(frozen=True)
class Off:
    """A meter that is off today: `share` of what it reads, and since which positions of days."""

    meter: int
    share: float
    deviation: float
    fault: Fault


def off_now(faults: Sequence[Fault]) -> list[Off]:
    """The meters whose faults do not add up to nothing again (one put right), by position."""
    by_meter: dict[int, list[Fault]] = {}
    for fault in faults:
        if fault.kind == "meter":
            by_meter.setdefault(fault.at, []).append(fault)
    found = []
    for meter, own in sorted(by_meter.items()):
        share, variance, first = 0.0, 0.0, own[0]
        for fault in own:
            if abs(share) <= Z_95 * np.sqrt(variance):
                share, variance, first = 0.0, 0.0, fault
            share, variance = share + fault.share, variance + fault.share_deviation**2
        if abs(share) > Z_95 * np.sqrt(variance):
            found.append(Off(meter, share, float(np.sqrt(variance)), first))
    return found


def meter_checks(known: Equations, closed: Closing, faults: Sequence[Fault]) -> pd.DataFrame:
    """Table METER_CHECKS: a meter is off where its change beat every other explanation, or where
    the recent record names it alone; it cannot be checked where only one side of it is balanced.
    """
    off = {o.meter: o for o in off_now(faults)}
    rows = [_row(known, closed, off.get(m), m) for m in range(len(known.meters))]
    if not rows:
        return empty(METER_CHECKS)
    frame = pd.DataFrame(rows)
    for name in ("since", "since_low", "since_high"):
        frame[name] = pd.to_datetime(frame[name])
    return frame[list(METER_CHECKS.names())]


def _row(known: Equations, closed: Closing, off: Off | None, m: int) -> dict[str, Any]:
    up, down = int(known.upstream[m]), int(known.downstream[m])
    flow, error = closed.flow_l_s[m], closed.flow_deviation_l_s[m]
    read = from_deviation(flow * M3_D_PER_L_S, error * M3_D_PER_L_S)
    mended = from_deviation(
        closed.reconciled_l_s[m] * M3_D_PER_L_S,
        closed.reconciled_deviation_l_s[m] * M3_D_PER_L_S,
    )
    row: dict[str, Any] = {
        "meter_id": str(known.meters[m]),
        "upstream_cell_id": str(known.cells[up]) if up >= 0 else "",
        "downstream_cell_id": str(known.cells[down]) if down >= 0 else "",
        "since": pd.NaT,
        "since_low": pd.NaT,
        "since_high": pd.NaT,
        "statistic_index": float(closed.meter_index[m]),
        "critical_index": closed.one_critical_index,
        "checked_share": float(closed.checked_share[m]),
        "act": off is not None,
    }
    share = from_deviation(np.nan, np.nan)
    alone = _alone(known, closed, m) if off is None else None
    if off is not None:
        row["verdict"], row["reason"] = "off", _why(known, off, up, down, flow)
        row |= {
            name: known.days[at]
            for name, at in (
                ("since", off.fault.first),
                ("since_low", off.fault.low),
                ("since_high", off.fault.high),
            )
        }
        row["statistic_index"] = off.fault.statistic_index
        row["critical_index"] = critical_index(known)
        read_off = from_deviation(off.share, off.deviation)
        # Of what passes, not of what it reads.
        share = Estimate(*(p / np.maximum(1.0 - p, 0.01) for p in read_off))
        kept = np.hypot(flow * off.deviation, error)
        mended = from_deviation(flow * (1 - off.share) * M3_D_PER_L_S, kept * M3_D_PER_L_S)
    elif alone is not None:
        row["verdict"], row["reason"], row["act"] = "off", alone, True
        spread = abs(closed.off_share[m]) / np.sqrt(max(closed.meter_index[m], 1e-9))
        share = from_deviation(closed.off_share[m], spread)
    else:
        row["verdict"], row["reason"] = _sound(known, closed, up, down, m)
    for name, part in (("flow_m3_d", read), ("reconciled_m3_d", mended), ("off_share", share)):
        row |= {name + s: float(p) for s, p in zip(("", "_low", "_high"), part, strict=True)}
    return row


def _why(known: Equations, off: Off, up: int, down: int, flow_l_s: float) -> str:
    more = "much" if off.share > 0 else "little"
    gains, loses = (down, up) if off.share * flow_l_s > 0 else (up, down)
    return (
        f"From {day(known.days[off.fault.first])} it reads too {more}: zone {known.cells[gains]} "
        f"seems to gain what zone {known.cells[loses]} loses, by night and by day in the measure "
        f"of its flow. {odds(off.fault.margin_index)} against the next best explanation, "
        f"{off.fault.runner_up}; a leak would show in one zone only"
    )


def odds(margin_index: float) -> str:
    """Odds in words from their log."""
    if margin_index > np.log(1000.0):
        return "More than 1000 to 1"
    return f"About {whole(np.exp(margin_index))} to 1"


def _alone(known: Equations, closed: Closing, m: int) -> str | None:
    """Why the recent record alone names the meter, if it does."""
    statistic = closed.meter_index[m]
    if closed.statistic_index <= closed.critical_index or statistic <= closed.one_critical_index:
        return None
    cells = {int(known.upstream[m]), int(known.downstream[m])} - {-1}
    ends = list(cells)
    touching = np.isin(known.upstream, ends) | np.isin(known.downstream, ends)
    touching[m] = False
    beside = closed.meter_index[touching]
    rivals = [*beside, *(closed.zone_index[c] for c in cells)]
    if statistic - max(np.nan_to_num(rivals), default=0.0) < 2 * ALTOGETHER or len(cells) < 2:
        return None
    more = "much" if closed.off_share[m] > 0 else "little"
    return (
        f"Night and day of the zones on both its sides agree only if it reads about "
        f"{percent(abs(closed.off_share[m]), decimals=0)} too {more}, over all recent nights; "
        "no other meter and no zone's use explains it as well"
    )


def _sound(known: Equations, closed: Closing, up: int, down: int, m: int) -> tuple[str, str]:
    if up < 0 or down < 0:
        return "cannot_be_checked", (
            "Only one side of it is balanced: a change of use there would look the same. "
            "A portable meter beside it for some days would tell"
        )
    both = [
        int((np.isfinite(known.night_l_s[:, c]) & np.isfinite(known.day_l_s[:, c])).sum())
        for c in (up, down)
    ]
    if min(both) < LEAST_DAYS and closed.checked_share[m] < LEAST_CHECKED:
        return "cannot_be_checked", (
            f"Too few days with both zones beside it known: {min(both)}, {LEAST_DAYS} are needed"
        )
    return "agrees", "Nothing happened in the zones beside it that only this meter would explain"


def without_meter(
    known: Equations, layout: Metering, night: NightBalance, faults: Sequence[Fault]
) -> pd.DataFrame:
    """Table WITHOUT_METER: each zone beside a meter that is off, over the nights since.

    As read; with the meter put right by its estimated share, whose limits count; and with the
    meter left out, which only the two zones together allow: it lies inside them and cancels.
    """
    nights = days_of(night.nights["night"].iloc[: len(night.nights) // max(len(known.cells), 1)])
    usable = usable_nights(night.nights, known.cells)
    leakage, systematic, random = (
        wide(frame, name, known.cells)
        for frame, name in (
            (night.nights, "leakage_l_s"),
            (night.spreads, "leakage_systematic_l_s"),
            (night.spreads, "leakage_random_l_s"),
        )
    )
    flows = pd.DataFrame(known.night_flow_l_s, index=known.days).reindex(nights).to_numpy()
    rows = []
    for off in off_now(faults):
        m = off.meter
        sides = {-1.0: int(known.upstream[m]), 1.0: int(known.downstream[m])}
        since = nights >= known.days[off.fault.first]
        flow = flows[:, m]
        error = error_l_s(np.nan_to_num(flows), layout.errors)[:, m] / Z_95
        cells = list(sides.values())
        joint_nights = since & usable[:, cells].all(axis=1)
        own = np.maximum((systematic[:, cells] ** 2).sum(axis=1) - 2 * error**2, 0.0)
        joint = _median(
            leakage[:, cells].sum(axis=1),
            np.sqrt(own),
            np.hypot(*random[:, cells].T),
            joint_nights,
        )
        for sign, cell in sides.items():
            counted = since & usable[:, cell]
            read = _median(leakage[:, cell], systematic[:, cell], random[:, cell], counted)
            spread = np.hypot(systematic[:, cell], off.deviation * flow)
            mended = _median(
                leakage[:, cell] - sign * off.share * flow, spread, random[:, cell], counted
            )
            row: dict[str, Any] = {
                "meter_id": str(known.meters[m]),
                "cell_id": str(known.cells[cell]),
                "nights_count": float(counted.sum()),
            }
            for name, part in (
                ("leakage_l_s", read),
                ("corrected_leakage_l_s", mended),
                ("joint_leakage_l_s", joint),
            ):
                row |= {
                    name + s: float(p) for s, p in zip(("", "_low", "_high"), part, strict=True)
                }
            rows.append(row)
    if not rows:
        return empty(WITHOUT_METER)
    return pd.DataFrame(rows)[list(WITHOUT_METER.names())]


def _median(values: Array, systematic: Array, random: Array, counted: Any) -> Estimate:
    """Median over the counted nights, limits as those of the zones' recent figures."""
    here = counted & np.isfinite(values)
    if not here.any():
        return from_deviation(np.nan, np.nan)
    by_chance = np.median(random[here]) * MEDIAN_FACTOR / np.sqrt(here.sum())
    return from_deviation(np.median(values[here]), np.hypot(np.median(systematic[here]), by_chance))
