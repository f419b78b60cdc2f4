"""Who must not lose water without being asked: by the flag, or by what the class of use tells."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from district.hydraulics.model import Flags
from district.schema.isolate_tables import USER_KINDS
from district.schema.use_words import FIRE, MEDICAL, PROCESS, tells_of
from district.words import missing, true

_TELLS = {"medical": MEDICAL, "fire": FIRE, "process": PROCESS}


def kind_of_users(connections: pd.DataFrame) -> Any:
    """The kind of each connection, one of `USER_KINDS`, as an array of texts.

    Of one that is flagged the name of its building may tell why as well.
    """
    classes = connections["use_class"].astype(object)
    known = {name: _of_class(name) for name in classes.unique()}
    kinds = np.array([known[name] for name in classes], dtype=object)
    flagged = np.array([true(flag) for flag in connections["critical"]], dtype=bool)
    for row in np.flatnonzero(flagged & (kinds == "other")):
        by_name = _of_class(connections["building_id"].iloc[row])
        kinds[row] = "critical" if by_name == "other" else by_name
    return kinds


def is_critical(connections: pd.DataFrame) -> Flags:
    """Whether each connection is flagged critical, or of medical, fire or process use."""
    return np.asarray(kind_of_users(connections) != "other", dtype=bool)


def urgency(kinds: Any) -> Any:
    """0 for the kind to be told of first, and so on."""
    return np.array([USER_KINDS.index(kind) for kind in kinds], dtype=np.int64)


def _of_class(name: Any) -> str:
    said = "" if missing(name) else str(name)
    found = [kind for kind, parts in _TELLS.items() if tells_of(said, parts)]
    return found[0] if found else "other"
