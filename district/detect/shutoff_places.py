"""Meters that could drive a valve which shuts by itself, and the valves there are."""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import pandas as pd

from district.detect.building import meter_buildings
from district.detect.shutoff_history import LONGEST_H, Span
from district.network import Network
from district.settings import Settings
from district.words import missing, true

_WAVER_H = 1 / 3600
_NO_USE = "empty"
"""On record among works, but none: premises stood empty, and draw nothing."""


@dataclass(frozen=True)
class Place:
    """A meter, its building, and the valve there if any."""

    device_id: str
    building_id: str
    valve_id: str
    fail_position: object
    step_h: float
    resolution_m3: float
    meters_count: int
    """Meters that serve the building."""

    def fine(self) -> bool:
        """Whether it is read every hour at least."""
        return self.step_h <= LONGEST_H + _WAVER_H


def places_of(
    quality: pd.DataFrame,
    network: Network,
    events: pd.DataFrame,
    building_checks: pd.DataFrame,
    settings: Settings,
) -> list[Place]:
    """Meters of buildings and customers with readings that have such a valve, or had a leak; all
    of them where the settings ask for it. In order of id."""
    homes = meter_buildings(network)
    valves = automatic_valves(network)
    leaked = events["kind"].eq("building_flow") & events["state"].ne("explained")
    # A flow as old as its readings is likely a process: only one worth a visit counts as a leak.
    flows = building_checks["verdict"].eq("constant_flow") & building_checks["act"].map(true)
    asked = {
        *events.loc[leaked & events["place_kind"].eq("building"), "place_id"],
        *building_checks.loc[flows.astype(bool), "device_id"],
    }
    meters = network.meters
    own = meters.index[meters["role"].isin(("building", "customer")) | meters.index.isin(homes)]
    read = quality.set_index("device_id")
    counts = pd.Series(homes, dtype=object).value_counts()
    found = []
    for device in sorted(str(m) for m in own if m in read.index):
        building = homes.get(device, "")
        valve_id, fails = valves.get(building, ("", None)) if building else ("", None)
        if valve_id or device in asked or settings.shut_off.advise_all:
            found.append(
                Place(
                    device,
                    building,
                    valve_id,
                    fails,
                    float(read.at[device, "step_h"]),
                    float(read.at[device, "resolution_m3"]),
                    int(counts.get(building, 1)) if building else 1,
                )
            )
    return found


def automatic_valves(network: Network) -> dict[str, tuple[str, object]]:
    """Building -> its valve that shuts by itself, and what that does without power."""
    valves = network.valves
    if "building_id" not in valves:
        return {}
    own = valves[(valves["kind"] == "automatic_shutoff") & valves["building_id"].notna()]
    fails = own["fail_position"] if "fail_position" in own else pd.Series(None, index=own.index)
    pairs = zip(own["building_id"], own.index, fails, strict=True)
    return {str(building): (str(valve), fail) for building, valve, fail in pairs if building}


def work_spans(works: pd.DataFrame, names: Container[str], clock: ZoneInfo) -> list[Span]:
    """Spans of the works recorded at one of `names`; one without an end takes its whole day.

    `works` is the input table (times in UTC). What was drawn then is neither usual nor a leak.
    """
    spans = []
    for row in works.itertuples():
        if str(row.place_id) in names and row.kind != _NO_USE and not missing(row.start):
            start = pd.to_datetime(row.start, utc=True)
            end = getattr(row, "end", None)
            if missing(end):
                midnight = start.tz_convert(clock).tz_localize(None).normalize()
                stop = (midnight + pd.Timedelta(days=1)).tz_localize(
                    clock, ambiguous=True, nonexistent="shift_forward"
                )
            else:
                stop = pd.to_datetime(end, utc=True)
            spans.append((int(start.value // 1000), int(stop.value // 1000)))
    return spans
