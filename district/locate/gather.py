"""Every piece of evidence about every leak looked for, of all kinds the district has."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from district.locate.size import size_evidence
from district.locate.spots import Evidence, Heard, Sought, Spots


def gathered(
    spots: Spots,
    leaks: Sequence[Sought],
    zones: pd.DataFrame,
    *,
    heard: Heard | None,
) -> dict[str, list[Evidence]]:
    """Evidence by sought_id. `zones` table ZONES; `heard` None where there is none.

    A model that explains its loggers badly is no evidence; its reason is then said instead.
    """
    pressure_m = zones.set_index("cell_id")["pressure_m"].astype(float)
    found: dict[str, list[Evidence]] = {}
    for sought in leaks:
        usual = float(pressure_m.get(sought.cell_id, np.nan))
        found[sought.sought_id] = [size_evidence(spots, sought, pressure_m=usual)]
        if heard is not None and heard.calibrated.reason:
            none = np.zeros(len(spots.pipe))
            said = heard.calibrated.reason
            found[sought.sought_id].append(
                Evidence(sought.sought_id, "pressure", said, none, used=False)
            )
    return found
