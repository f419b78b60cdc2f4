"""What must be settled before a valve shuts a building by itself, and where none may."""

from __future__ import annotations

import pandas as pd

from district.network import Network
from district.schema.event_tables import SHUTOFF_CAUTION
from district.schema.use_words import FIRE, MEDICAL, PROCESS, tells_of
from district.words import listed, missing, true

_FAILS = {
    "open": "Without power the valve {id} opens: nothing is shut off then, and a leak runs on.",
    "shut": "Without power the valve {id} shuts: the building is without water until it is back.",
    "stays": "Without power the valve {id} stays as it is: nothing is shut off then.",
}


def served_by(network: Network, device_id: str, building_id: str) -> pd.DataFrame:
    """The connections behind a meter: those that name it or its building."""
    known = network.connections
    own = known["meter_id"] == device_id
    if building_id:
        own = own | (known["building_id"] == building_id)
    return pd.DataFrame(known[own.fillna(False).astype(bool)])


def held_back(connections: pd.DataFrame) -> str:
    """Why no setting may be advised for these connections, '' where nothing speaks against it."""
    classes = _texts(connections, "use_class")
    fire = sorted({c for c in classes if tells_of(c, FIRE)})
    if fire:
        return (
            f"None advised: it is of class {fire[0]}, and a valve that shuts by itself never "
            "belongs on a fire supply"
        )
    if "critical" in connections:
        critical = connections.index[connections["critical"].map(true).astype(bool)]
        if len(critical):
            return (
                f"None advised: {listed(critical)} may not be cut off without agreement "
                "(critical). Agree with those who are served first"
            )
    sensitive = sorted({c for c in classes if tells_of(c, MEDICAL + PROCESS)})
    if sensitive:
        return (
            f"None advised: it is of class {sensitive[0]}. Medical and process users must agree "
            "first"
        )
    return ""


def cautions(valve_id: str, fail_position: object, *, meters_count: int) -> str:
    """What to settle first, in sentences; `meters_count` meters serve the building."""
    if not valve_id:
        fails = (
            "No valve that shuts by itself is on the map here: if one is fitted, choose what it "
            "does without power."
        )
    elif missing(fail_position) or str(fail_position) not in _FAILS:
        fails = (
            f"What the valve {valve_id} does without power is not known: find out, and fill in "
            "fail_position."
        )
    else:
        fails = _FAILS[str(fail_position)].format(id=valve_id)
    several = (
        f" The building has {meters_count} meters: this is for a valve behind this one alone."
        if meters_count > 1
        else ""
    )
    return f"{SHUTOFF_CAUTION} {fails}{several}"


def _texts(connections: pd.DataFrame, column: str) -> list[str]:
    if column not in connections:
        return []
    return [str(value) for value in connections[column].dropna()]
