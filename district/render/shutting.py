"""Valves that shut by themselves: what to set, what must be settled first, and the trade-off."""

from __future__ import annotations

from typing import Any

import pandas as pd
from markupsafe import Markup

from district.render.drawn import as_image
from district.render.named_places import Place, named_places
from district.render.templates import row_dicts
from district.render.trade_off import left_out_words, trade_off_chart, trade_off_words
from district.results import DistrictReport
from district.schema.event_tables import SHUTOFF_CAUTION
from district.words import missing

DRAWN = 6
"""Buildings whose trade-off is drawn: those with a valve first, then where most was lost."""
SHOWN = 60
"""Buildings told of on the page; the workbook and the tables have all."""
NOTHING = (
    "No building has a valve of kind automatic_shutoff on the map, or had a leak behind a meter "
    "read by the hour. With advise_all under [shut_off] in district.toml every building whose "
    "meter is read by the hour is replayed."
)


def shut_off(report: DistrictReport) -> dict[str, Any]:
    """Settings advised, with chart and curve of the first ones, and those for which none is."""
    settings, curve = report.shut_off.settings, report.shut_off.curve
    ordered = settings.assign(_no_valve=settings["valve_id"].map(missing)).sort_values(
        ["_no_valve", "leaked_m3"], ascending=[True, False], kind="stable", na_position="last"
    )
    some = ordered["trip_l_s"].notna()
    places = named_places(report)
    # A caution of one place alone says the general one again, which stands above them all.
    rows = [_told(row, places) for row in row_dicts(ordered[some])]
    none = [_told(row, places) for row in row_dicts(ordered[~some])]
    for row in rows[:DRAWN]:
        row |= _drawn(row, curve[curve["device_id"] == row["device_id"]])
    return {
        "advised": rows[:SHOWN],
        "none": none[:SHOWN],
        "left_out": max(len(rows) - SHOWN, 0) + max(len(none) - SHOWN, 0),
        "caution": SHUTOFF_CAUTION,
        "nothing": NOTHING,
        "basis": report.shut_off.basis,
    }


def advice_of_valves(report: DistrictReport) -> dict[str, tuple[str, str]]:
    """Valve id -> what to set it to, and what must be settled first."""
    return {
        str(row["valve_id"]): (str(row["advice"]), str(row["cautions"]))
        for row in row_dicts(report.shut_off.settings)
        if not missing(row["valve_id"])
    }


def _told(row: dict[str, Any], places: dict[tuple[str, str], Place]) -> dict[str, Any]:
    key = str(row["device_id"])
    housed = not missing(row["building_id"])
    own = Place(str(row["building_id"]), f"meter {key}") if housed else Place(key, "meter")
    place = places.get(("building", key), own)
    valve = "no such valve yet" if missing(row["valve_id"]) else f"valve {row['valve_id']}"
    cautions = "" if missing(row["cautions"]) else str(row["cautions"])
    return {
        **row,
        "name": place.name,
        "beside": f"{place.beside()}, {valve}",
        "own_caution": cautions.removeprefix(SHUTOFF_CAUTION).strip(),
        "image": "",
        "alt": "",
        "frequent": "",
        "curve": [],
    }


def _drawn(row: dict[str, Any], curve: pd.DataFrame) -> dict[str, Any]:
    if curve.empty:
        return {}
    without = None if missing(row["leaked_m3"]) else float(row["leaked_m3"])
    return {
        "image": Markup(as_image(trade_off_chart(curve, without_m3=without))),
        "alt": trade_off_words(curve, row["name"], without_m3=without),
        "frequent": left_out_words(curve),
        "curve": row_dicts(curve.sort_values("false_trips_per_year", kind="stable")),
    }
