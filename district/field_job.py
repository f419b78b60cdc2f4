"""A job for a crew: a leak to find, where to listen for it, and what to shut for it."""

from __future__ import annotations

from dataclasses import dataclass

import geopandas as gpd
import pandas as pd


@dataclass(frozen=True, eq=False)
class FieldJob:
    """One job for a crew: a leak to find, where to listen for it, and what to shut for it.

    job_id
        event looked for, or the zone where it is an excess.
    event
        its row of table EVENTS; without rows where it is an excess.
    sets
        its rows of table SEARCH_SETS.
    legs, points, set_ups
        tables SURVEY_LEGS, LISTENING_POINTS and SET_UPS, of this job alone.
    leak_segments
        table LEAK_SEGMENTS; without rows where the leak is behind a building's meter.
    valves, areas, users, failures
        tables PLAN_VALVES, PLAN_AREAS, PLAN_USERS and PLAN_FAILURES of the plan for `target`.
    cascade
        table CASCADE; without rows where the leak is in the street.
    pressures
        table PLAN_PRESSURES; without rows where it could not be told.
    form
        table ENTRY_FORM, to be filled in.
    """

    job_id: str
    cell_id: str
    zone: str
    event: pd.DataFrame
    sets: pd.DataFrame
    legs: gpd.GeoDataFrame
    points: gpd.GeoDataFrame
    set_ups: gpd.GeoDataFrame
    leak_segments: pd.DataFrame
    target: str
    valves: pd.DataFrame
    areas: pd.DataFrame
    users: pd.DataFrame
    failures: pd.DataFrame
    cascade: pd.DataFrame
    pressures: pd.DataFrame
    form: pd.DataFrame
