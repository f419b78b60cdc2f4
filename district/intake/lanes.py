"""Which devices are cleaned third by third, and which all at once; what each third rests on."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.intake.spans import BEFORE
from district.intake.strays import stray_bins

_SELDOM = 60
"""A device with fewer readings a third, about six a day, is cleaned by its whole record: its
readings tell little of one another in ten days, and all together they are few."""
LOADED = BEFORE + 1
"""Thirds before its own that a third may need: those its window holds, and those by which the
third before is judged, of which it takes the last reading."""
Array = np.ndarray[Any, Any]


@dataclass(frozen=True, eq=False)
class Lanes:
    """Table PRESENCE, in order of device and bin, and what is done with each of its rows."""

    presence: pd.DataFrame
    seldom: Array
    """Of a device that is cleaned by its whole record."""
    stray: Array
    """Of readings years away from the others, which are left out; never of such a device."""


def lanes_of(presence: pd.DataFrame, *, drifting: Collection[str] = ()) -> Lanes:
    """The lanes of the devices of table PRESENCE (`device_id` a category).

    `drifting` are those of which a file's clock gains: to know by how much, all must be read.
    """
    if presence.empty:
        none = np.zeros(0, dtype=bool)
        return Lanes(presence, none, none)
    device = presence["device_id"].cat.codes.to_numpy().astype(np.int64)
    third = presence["bin"].to_numpy() // 2
    new = np.ones(len(device), dtype=bool)
    new[1:] = (np.diff(device) != 0) | (np.diff(third) != 0)
    thirds = np.bincount(device, weights=new)
    counts = np.bincount(device, weights=presence["rows_count"].to_numpy())
    names = presence["device_id"].cat.categories
    seldom = (counts < _SELDOM * thirds) | np.isin(names, list(drifting))
    of_row = seldom[device]
    return Lanes(presence, of_row, stray_bins(presence) & ~of_row)


def thirds_needed(lanes: Lanes) -> pd.DataFrame:
    """What is cleaned third by third: device_id, third, earlier (third, -1 for none).

    One row a device and third with readings of it. `earlier` is the last third with readings
    before those that are loaded for every device, where these have none.
    """
    rows = lanes.presence[~lanes.seldom & ~lanes.stray]
    each = pd.DataFrame({"device_id": rows["device_id"], "third": rows["bin"] // 2})
    each = each.drop_duplicates(ignore_index=True)
    device = each["device_id"].cat.codes.to_numpy()
    third = each["third"].to_numpy().astype(np.int64)
    before = np.concatenate([[-1], third])[: len(third)]
    before[1:][np.diff(device) != 0] = -1
    earlier = np.where((before >= 0) & (third - before > LOADED), before, -1)
    return each.assign(third=third, earlier=earlier, new=before < 0)
