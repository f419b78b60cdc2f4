"""Jobs typed by hand, for the tests of the field sheet."""

from __future__ import annotations

from typing import Any

import geopandas as gpd
import pandas as pd
from shapely.geometry import LineString, Point

from district.field_job import FieldJob
from district.network import map_layers
from district.results import Layers
from district.schema import empty
from district.schema.entry_forms import entry_form
from district.schema.isolate_tables import (
    CASCADE,
    LEAK_SEGMENTS,
    PLAN_AREAS,
    PLAN_FAILURES,
    PLAN_PRESSURES,
    PLAN_USERS,
    PLAN_VALVES,
)
from district.schema.outputs import EVENTS, SEARCH_SETS
from district.schema.survey_tables import LISTENING_POINTS, SET_UPS, SURVEY_LEGS
from tests.survey.scenes import ladder

SCRIPT = "<script>alert('x')</script>"


def rows(table: Any, *told: dict[str, Any]) -> pd.DataFrame:
    """Rows of a table, what is not told empty."""
    return pd.DataFrame(list(told)).reindex(columns=list(table.names()))


def shapes(table: Any, *told: dict[str, Any]) -> gpd.GeoDataFrame:
    """The same with geometry."""
    return gpd.GeoDataFrame(rows(table, *told), geometry="geometry", crs=32630)


def map_of_job() -> Layers:
    """The layers that the job stands on."""
    return map_layers(ladder())


def job(count: int = 2, *, name: str = "", indoors: bool = False) -> FieldJob:
    """A job of `count` pieces, valves, critical users and further segments; `name` is put into
    every text of it."""
    many = range(1, count + 1)
    estimate = {"size_l_s": 1.2, "size_l_s_low": 1.1, "size_l_s_high": 1.3}
    valve_ids = [f"V{n}{name}" for n in many]
    cascade = rows(
        CASCADE,
        {"connection_id": "H1", "building_id": f"Mill Court{name}", "leaks": True, "kind": "other",
         "stopcock": "cupboard 5", "use_class": "household", "said": "leaks"},
        {"connection_id": "H2", "building_id": "Mill Court", "leaks": False, "kind": "other",
         "use_class": "household", "said": "below it"},
    )  # fmt: skip
    line = LineString([(100, 0), (200, 0)])
    return FieldJob(
        job_id=f"E-Z-2025-06-01{name}",
        cell_id="Z",
        zone=f"Upper row{name}",
        event=rows(
            EVENTS,
            {"event_id": "E-Z-2025-06-01", "kind": "leak", "kind_share": 0.9,
             "start": pd.Timestamp("2025-06-01"), "start_low": pd.Timestamp("2025-05-31"),
             "start_high": pd.Timestamp("2025-06-02"), "since_first": pd.Timestamp("2025-05-31"),
             "since_last": pd.Timestamp("2025-06-02"), **estimate},
        ),
        sets=rows(
            SEARCH_SETS, {"cell_id": "Z", "set_km": 0.16, "mains_km": 0.9, "held_share": 0.9}
        ),
        legs=shapes(
            SURVEY_LEGS,
            *({"leg": n, "stretch_id": f"B{name}", "from_m": 10.0, "to_m": 80.0,
               "probability_share": 0.4, "geometry": line} for n in many),
        ),
        points=shapes(
            LISTENING_POINTS,
            *({"rank": n, "leg": n, "kind": "valve", "geometry": Point(110, 0)} for n in many),
        ),
        set_ups=shapes(
            SET_UPS,
            *({"set_up": n, "leg": 1, "stretch_id": "B", "first_id": f"V1{name}",
               "first_kind": "valve", "other_id": "V2", "other_kind": "valve", "between_m": 100.0,
               "materials": "cast_iron, pvc", "too_far": n == 1, "geometry": line,
               "speed_m_s": 1290.0, "speed_m_s_low": 1160.0, "speed_m_s_high": 1410.0,
               "delay_ms": 20.0, "delay_ms_low": 17.0, "delay_ms_high": 23.0} for n in many),
        ),
        leak_segments=rows(
            LEAK_SEGMENTS,
            *({"segment_id": f"B{n}", "probability_share": 0.5 / n, "pipes": f"B{name}",
               "valves": f"V1, V2{name}", "sources": "", "dry_properties_count": 4.0,
               "dry_critical_count": 1.0} for n in many),
        ),
        target=f"the segment of pipe B{name}",
        valves=rows(
            PLAN_VALVES,
            *({"valve_id": v, "action": "shut", "rank": n, "kind": "isolation", "beside": "",
               "diameter_mm": 100.0} for n, v in enumerate(valve_ids, start=1)),
            {"valve_id": "V3", "action": "keep_shut", "kind": "boundary", "beside": ""},
        ),
        areas=rows(
            PLAN_AREAS,
            {"area_id": "shut off", "kind": "shut_off", "properties_count": 12.0,
             "connections_count": 7.0},
            {"area_id": "1", "kind": "unintended", "properties_count": 3.0,
             "connections_count": 3.0},
        ),
        users=rows(
            PLAN_USERS,
            *({"connection_id": f"H{n}{name}", "building_id": "Mill Court", "kind": "medical",
               "use_class": "dialysis", "also_fed_by": ""} for n in many),
        ),
        failures=rows(
            PLAN_FAILURES, *({"said": f"If {v} does not close: also shut V9."} for v in valve_ids)
        ),
        cascade=cascade if indoors else empty(CASCADE),
        pressures=rows(
            PLAN_PRESSURES,
            {"connection_id": "H9", "change_m": -4.1, "change_m_low": -6.2, "change_m_high": -2.9},
        ),
        form=entry_form("E-Z-2025-06-01", valves=valve_ids),
    )  # fmt: skip
