"""The places that can have an alarm, and what people call them."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from district.network import Network
from district.schema.columns import empty
from district.schema.event_tables import WATCHED
from district.words import listed, missing


def watched_places(network: Network, nights: pd.DataFrame, quality: pd.DataFrame) -> pd.DataFrame:
    """Every zone, meter and sensor as table WATCHED.

    `nights` is table NIGHTS, `quality` DEVICE_QUALITY: a zone is judged where it has nights, a
    device where it has readings. None is changed.
    """
    balanced = set(nights["cell_id"].unique())
    read = set(quality.loc[quality["readings_count"] > 0, "device_id"].to_numpy())
    names = {str(c): str(n) for c, n in network.cells["name"].items()}
    tables = [
        _zones(names, balanced),
        _meters(network, names, read),
        _sensors(network, read),
    ]
    some = [t for t in tables if len(t)]
    if not some:
        return empty(WATCHED)
    return pd.concat(some, ignore_index=True)[list(WATCHED.names())]


def _zones(names: Mapping[str, str], balanced: set[str]) -> pd.DataFrame:
    ids = list(names)
    return pd.DataFrame(
        {
            "place_kind": "zone",
            "place_id": ids,
            "place": [f"zone {names[i]}" for i in ids],
            "cell_id": ids,
            "blinds": "",
            "judged": [i in balanced for i in ids],
        }
    )


def _meters(network: Network, names: Mapping[str, str], read: set[str]) -> pd.DataFrame:
    meters, users = network.meters, network.connections
    ids = [str(i) for i in meters.index]
    known = users[(users["meter_id"].fillna("") != "") & (users["building_id"].fillna("") != "")]
    buildings = dict(zip(known["meter_id"], known["building_id"], strict=True))
    cells, blinds = _of_boundaries(network, names)
    own = dict(zip(ids, _texts(meters, "cell_id"), strict=True))
    return pd.DataFrame(
        {
            "place_kind": "meter",
            "place_id": ids,
            "place": [_called("meter", i, buildings.get(i, "")) for i in ids],
            "cell_id": [cells.get(i) or own[i] for i in ids],
            "blinds": [blinds.get(i, "") for i in ids],
            "judged": [i in read for i in ids],
        }
    )


def _sensors(network: Network, read: set[str]) -> pd.DataFrame:
    sensors = network.sensors
    ids = [str(i) for i in sensors.index]
    buildings = _texts(sensors, "building_id")
    return pd.DataFrame(
        {
            "place_kind": "sensor",
            "place_id": ids,
            "place": [_called("sensor", i, b) for i, b in zip(ids, buildings, strict=True)],
            "cell_id": _texts(sensors, "cell_id"),
            "blinds": "",
            "judged": [i in read for i in ids],
        }
    )


def _of_boundaries(
    network: Network, names: Mapping[str, str]
) -> tuple[dict[str, str], dict[str, str]]:
    """Of each meter between zones the zone it feeds, and the names of those it is needed for."""
    has_source = network.cells["has_source"].astype(bool)
    balanced = {str(c) for c, source in has_source.items() if not source}
    edges = network.boundaries
    fed: dict[str, str] = {}
    needed: dict[str, list[str]] = {}
    for meter, *sides in zip(
        edges["meter_id"], edges["downstream_cell_id"], edges["upstream_cell_id"], strict=True
    ):
        own = [str(c) for c in sides if str(c) in balanced]
        fed[str(meter)] = next(iter(own), "")
        needed[str(meter)] = [names[c] for c in own]
    return fed, {meter: listed(zones) for meter, zones in needed.items()}


def _called(noun: str, own_id: str, building: str) -> str:
    return f"building {building} ({noun} {own_id})" if building else f"{noun} {own_id}"


def _texts(frame: pd.DataFrame, name: str) -> list[str]:
    if name not in frame:
        return [""] * len(frame)
    values = frame[name].to_numpy(dtype=object)
    return ["" if missing(v) else str(v) for v in values]
