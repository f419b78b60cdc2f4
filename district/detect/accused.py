"""Rises that only a meter explains, because the balance found that it began to read wrong."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from district.words import percent

NEAR_NIGHTS = 3
"""A rise this many nights from the meter's first wrong day may be the meter's."""
_L_S_PER_M3_D = 1000.0 / 86400.0
_LIKE = 1.3  # a rise larger than this times the meter's error by day is not the meter's alone


@dataclass(frozen=True)
class Accused:
    """A meter that is off, and what it does to the cell beside it whose flow seems to rise."""

    meter_id: str
    cell_id: str
    other_cell_id: str
    low: pd.Timestamp
    high: pd.Timestamp
    off_share: float
    largest_l_s: float

    def words(self) -> str:
        """The meter for a reason: 'meter M4 began to read about 10 % too much'."""
        more = "much" if self.off_share > 0 else "little"
        share = percent(abs(self.off_share), decimals=0)
        return f"meter {self.meter_id} began to read about {share} too {more}"


def accused(meter_checks: pd.DataFrame) -> tuple[Accused, ...]:
    """The meters of table METER_CHECKS that are off since a known day."""
    found = []
    off = meter_checks[(meter_checks["verdict"] == "off") & meter_checks["since"].notna()]
    for row in off.to_dict("records"):
        share = float(row["off_share"])
        # What it reads too much of what flows, by day: the most that it does by night.
        added = share / (1.0 + share) * float(row["flow_m3_d"]) * _L_S_PER_M3_D
        sides = str(row["downstream_cell_id"]), str(row["upstream_cell_id"])
        cell, other = sides if added > 0 else sides[::-1]
        margin = pd.Timedelta(days=NEAR_NIGHTS)
        found.append(
            Accused(
                str(row["meter_id"]),
                cell,
                other,
                pd.Timestamp(row["since_low"]) - margin,
                pd.Timestamp(row["since_high"]) + margin,
                share,
                _LIKE * abs(added),
            )
        )
    return tuple(found)


def blamed(
    cell_id: str,
    meters: tuple[Accused, ...],
    *,
    low: pd.Timestamp,
    high: pd.Timestamp,
    size_l_s: float,
    error_l_s: float,
) -> Accused | None:
    """The meter that explains a rise of `cell_id` begun from `low` to `high`, if one does.

    A rise clearly larger than the meter makes is something else, or something more.
    """
    for meter in meters:
        there = meter.cell_id == cell_id and low <= meter.high and meter.low <= high
        if there and size_l_s - 1.96 * error_l_s <= meter.largest_l_s:
            return meter
    return None
