"""How far a meter may be off, by the flow through it."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from district.estimates import Array
from district.schema.inputs import METERS
from district.units import WATER_VISCOSITY_M2_S

Q2_OVER_Q1 = 1.6
"""Transitional over minimum flow, ISO 4064-1:2014 / OIML R 49-1:2013 (from memory)."""
CLASS_SHARES = {1: (0.03, 0.01), 2: (0.05, 0.02)}
"""Class -> largest error between Q1 and Q2, and from Q2 to Q4, of cold water (same standard;
class 2 also EN 14154, class 1 from memory)."""
PROFILE_SHARE = 0.02
"""95 % limit of a profile factor taken by the flow: formulas differ by 1 %, and bends nearby add
to it (common practice, no source)."""
SLOW_PROFILE_SHARE = 0.11
"""The same below Re 4000, where it may lie anywhere from 0.75 (laminar) to 0.93 (turbulent)."""
_TURBULENT_FROM = 4000.0


@dataclass(frozen=True, eq=False)
class MeterErrors:
    """What tells the errors of some meters; arrays of one entry a meter."""

    share: Array
    """95 % limit at ordinary flows, as a share."""
    low_share: Array
    """The same below Q2; as `share` where no plate says otherwise."""
    q1_l_s: Array
    """Minimum flow; 0 where no plate says it."""
    q2_l_s: Array
    bore_m: Array
    """Of meters whose profile factor goes by the flow; NaN for all others."""


def meter_errors(ids: pd.Index[Any], percent: pd.Series[Any], meters: pd.DataFrame) -> MeterErrors:
    """Errors of the meters `ids`, by `percent` (their error_percent) and their plates.

    `meters` are rows of the meters layer by meter_id; one that states q3_m3_h and ratio_r has
    the error limits of its class (2 if it states none) below Q2, and above it too if it states
    its class. A transit-time meter that states no bore_mm has that of its pipe, pipe_bore_mm, as
    its flow was worked out.
    """

    def stated(column: str) -> Array:
        if column not in meters:
            return np.full(len(ids), np.nan)
        return np.asarray(meters[column].reindex(ids).to_numpy(dtype=float, na_value=np.nan))

    usual = float(METERS["error_percent"].default)
    share = np.asarray(percent.astype(float).fillna(usual).to_numpy() / 100.0)
    q1_l_s = stated("q3_m3_h") / stated("ratio_r") / 3.6
    plate = np.isfinite(q1_l_s)
    said = stated("accuracy_class")
    accuracy = np.where(np.isfinite(said), said, 2).astype(int)
    low, high = (np.array([CLASS_SHARES[c][i] for c in accuracy], dtype=float) for i in (0, 1))
    share = np.where(plate & np.isfinite(said), high, share)
    by_flow = np.isfinite(stated("path_length_mm")) & np.isnan(stated("profile_factor"))
    if "kind" in meters:
        by_flow &= (meters["kind"].reindex(ids) == "transit_time").to_numpy(dtype=bool)
    share = np.where(by_flow, np.hypot(share, PROFILE_SHARE), share)
    own_mm = stated("bore_mm")
    bore_mm = np.where(np.isnan(own_mm), stated("pipe_bore_mm"), own_mm)
    return MeterErrors(
        share,
        np.where(plate, np.maximum(low, share), share),
        np.where(plate, q1_l_s, 0.0),
        np.where(plate, q1_l_s * Q2_OVER_Q1, 0.0),
        np.where(by_flow, bore_mm / 1000.0, np.nan),
    )


def error_l_s(flow_l_s: Array, errors: MeterErrors) -> Array:
    """95 % limit of each meter's error at these flows (any shape whose last axis is the meters).

    Below Q1 the standard says nothing, and a meter may stand still: the limit is that at Q1 and
    what is lacking to Q1.
    """
    size = np.abs(flow_l_s)
    # Where no meter has a plate, or none goes by its profile, nothing of either need be reckoned:
    # users are many, and so are their nights.
    if not (errors.q2_l_s > 0).any():
        error = size * errors.share
    else:
        error = size * np.where(size < errors.q2_l_s, errors.low_share, errors.share)
        below = errors.low_share * errors.q1_l_s + errors.q1_l_s - size
        error = np.where(size < errors.q1_l_s, below, error)
    if not np.isfinite(errors.bore_m).any():
        return np.asarray(error)
    # Reynolds number 4 Q / (π D ν).
    reynolds = size / 1000.0 * 4.0 / (np.pi * errors.bore_m * WATER_VISCOSITY_M2_S)
    slow = np.hypot(errors.share, SLOW_PROFILE_SHARE) * size
    return np.asarray(np.where(reynolds < _TURBULENT_FROM, np.maximum(error, slow), error))


def errors_at(errors: MeterErrors, place: npt.NDArray[np.integer[Any]]) -> MeterErrors:
    """The errors of the meters at these positions, in their order; one may come several times."""
    return MeterErrors(*(getattr(errors, part.name)[place] for part in fields(errors)))


def below_q1(flow_l_s: Array, errors: MeterErrors) -> npt.NDArray[np.bool_]:
    """Which meters run below the minimum flow of their plate at these flows, one a meter."""
    return np.asarray(np.abs(flow_l_s) < errors.q1_l_s, dtype=np.bool_)
