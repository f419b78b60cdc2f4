"""Every piece of evidence about every leak looked for, of all kinds the district has."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np
import pandas as pd

from district.errors import UnsettledError
from district.locate.field import field_evidence
from district.locate.pressure import pressure_evidence
from district.locate.size import size_evidence
from district.locate.spots import Evidence, Heard, Seen, Sought, Spots
from district.network import Network
from district.settings import Settings


def gathered(
    network: Network,
    spots: Spots,
    leaks: Sequence[Sought],
    zones: pd.DataFrame,
    events: pd.DataFrame,
    *,
    settings: Settings,
    heard: Heard | None,
    seen: Seen | None,
    until: date | None = None,
) -> dict[str, list[Evidence]]:
    """Evidence by sought_id, used or not.

    Parameters: `zones` table ZONES, `events` table EVENTS; `heard` None where there is no logger
    or no model, `seen` None where there is no record from the field; `until` last day of readings,
    by which records are old or not (the latest in `seen` if None).
    """
    pressure_m = zones.set_index("cell_id")["pressure_m"].astype(float)
    found: dict[str, list[Evidence]] = {}
    for sought in leaks:
        usual = float(pressure_m.get(sought.cell_id, np.nan))
        own = [size_evidence(spots, sought, pressure_m=usual)]
        if heard is not None:
            own.append(_pressed(network, spots, sought, heard, events))
        if seen is not None:
            others = [s for s in leaks if s.cell_id != sought.cell_id]
            own += field_evidence(
                network, spots, sought, seen, settings=settings, until=until, others=others
            )
        found[sought.sought_id] = own
    return found


def _pressed(
    network: Network, spots: Spots, sought: Sought, heard: Heard, events: pd.DataFrame
) -> Evidence:
    """What the loggers tell; one leak that the model cannot carry must not stop all the others."""
    try:
        return pressure_evidence(network, spots, sought, heard, events=events)
    except UnsettledError as reason:
        said = f"The model of the pipes finds no balance with the leak: {reason}"
        return Evidence(sought.sought_id, "pressure", said, np.zeros(len(spots.pipe)), used=False)
