"""All evidence about every leak."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd

from district.locate.gather import gathered
from district.locate.spots import Sought
from district.settings import Settings
from tests.locate.streets import plain_spots

Make = Callable[..., Any]
LEAKS = (Sought("E1", "V1", "leak", 0.6, 0.5, 0.7), Sought("V2", "V2", "excess", 0.2, 0.1, 0.3))
SPOTS = plain_spots(np.linspace(0, 1, 4))


def test_every_leak_has_its_size(network_of: Make, zones_of: Make, no_events: pd.DataFrame) -> None:
    network = network_of(pd.DataFrame({"pipe_id": list("ABCD")}))
    zones = zones_of({"V2": (0.2, 0.1, 0.3)}).assign(pressure_m=40.0)
    found = gathered(
        network, SPOTS, LEAKS, zones, no_events, settings=Settings(), heard=None, seen=None
    )
    assert list(found) == ["E1", "V2"]
    assert [e.kind for e in found["E1"]] == ["size"]
    assert found["E1"][0].used
    assert "50 m" in found["E1"][0].said
    assert not found["V2"][0].used
