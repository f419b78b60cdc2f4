"""A zone and the one fed through it are, added up, the two as one without the meter between."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

from district.pipeline import balance_folder
from district.results import Balance
from tests.bad_inputs.breakers import both, features
from tests.bad_inputs.small_folder import make_folder
from tests.bad_inputs.tank_cases import tank
from tests.properties.test_stored_water import filling

WHOLE = [(7.0011, 46.9995), (7.0045, 46.9995), (7.0045, 47.0015), (7.0011, 47.0015)]


def _one_zone(folder: Path) -> None:
    """The transfer meter, its readings and the lower zone's outline taken away."""
    features("meters", lambda found: found.pop(1))(folder)
    features("zones", lambda found: found.pop(1))(folder)
    ring = [[*WHOLE, WHOLE[0]]]
    features("zones", lambda found: found[0]["geometry"].update(coordinates=ring))(folder)
    path = folder / "readings/zones.csv"
    rows = pd.read_csv(path)
    rows[rows["device_id"] != "MB"].to_csv(path, index=False)


def _sums(found: Balance) -> list[np.ndarray]:
    annual = found.annual.set_index(["cell_id", "component"])["volume_m3"]
    lines = ["system input volume", "authorised consumption", "water losses"]
    return [
        found.nights.groupby("night")[["inflow_l_s", "legitimate_use_l_s", "leakage_l_s"]].sum(),
        found.days.groupby("day")[["inflow_m3", "consumption_m3"]].sum(),
        annual["district"][lines],
        annual.drop(index="district", level=0).groupby("component").sum()[lines],
    ]


def test_parent_and_child_add_up_to_the_zone_without_the_meter_between(tmp_path: Path) -> None:
    for n, more in enumerate((lambda _: None, both(tank(), filling))):
        found = []
        for name, change in (("two", lambda _: None), ("one", _one_zone)):
            folder = make_folder(tmp_path / f"{name}{n}")
            both(more, change)(folder)
            found.append(balance_folder(folder)[1])
        two, one = found
        assert (set(two.zones["cell_id"]), set(one.zones["cell_id"])) == ({"A", "B"}, {"A"})
        for apart, together in zip(_sums(two), _sums(one), strict=True):
            np.testing.assert_allclose(apart, together, rtol=1e-9, atol=1e-9)
        # The meter between is not among the errors of the whole.
        edge = [
            b.annual.set_index(["cell_id", "component"]).loc[("district", "system input volume")]
            for b in found
        ]
        np.testing.assert_allclose(
            *(e[["volume_m3_low", "volume_m3_high"]].astype(float) for e in edge)
        )
