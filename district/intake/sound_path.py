"""The sound path of a transit-time meter that is read by its travel times."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from district.errors import Finding


@dataclass(frozen=True)
class SoundPath:
    """Where the sound goes, and the pipe it crosses."""

    path_m: float
    angle_deg: float
    bore_m: float
    factor_share: float
    """Profile factor as stated; NaN to take it by the flow."""


def sound_path(row: Any, pipe_mm: float, source: str, findings: list[Finding]) -> SoundPath | None:
    """The path of a meter's `row`, None where it states none; what it lacks joins `findings`.

    Its bore is that of the meter, else the diameter `pipe_mm` of its pipe (NaN if not known).
    """
    if row.kind != "transit_time" or math.isnan(float(row.path_length_mm)):
        return None
    own_mm = float(row.bore_mm)
    bore_mm = pipe_mm if math.isnan(own_mm) else own_mm
    angle_deg = float(row.path_angle_deg)
    for column, value, meaning in (
        ("path_angle_deg", angle_deg, "the angle between sound path and pipe axis in degrees"),
        ("bore_mm", bore_mm, "the inside diameter at the meter in mm"),
    ):
        if math.isnan(value):
            findings.append(
                Finding(
                    "error",
                    source,
                    f"meter {row.meter_id}",
                    column,
                    got="nothing",
                    expected=f"{meaning}, as path_length_mm is given",
                    remedy="Fill it in, or empty path_length_mm if its readings are flows",
                )
            )
    return SoundPath(
        float(row.path_length_mm) / 1000.0,
        angle_deg,
        bore_mm / 1000.0,
        float(row.profile_factor),
    )
