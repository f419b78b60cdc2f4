"""A transfer meter whose flow turns round, from a folder to its balance."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pandas as pd
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from district.pipeline import balance_folder
from district.results import Balance
from tests.bad_inputs.small_folder import make_folder, read_layer, write_layer
from tests.examples import examples

TABLES = ("zones", "nights", "days", "annual", "indicators")
FLOWS = st.lists(
    st.integers(-400, 400).map(lambda x: x / 100), min_size=73, max_size=73, unique=True
)
FEW = settings(
    max_examples=examples(2),
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.large_base_example],
    derandomize=True,
)


def balanced(flow_l_s: list[float], *, downstream: str, plate: bool = False) -> Balance:
    """MB measures what passes from A to B both ways; `downstream` is the zone it counts to."""
    with TemporaryDirectory() as scratch:
        folder = make_folder(Path(scratch) / "small")
        meters = read_layer(folder, "meters")
        meters[1]["properties"] = {
            "meter_id": "MB",
            "role": "transfer",
            "kind": "electromagnetic",
            "downstream": downstream,
            **({"q3_m3_h": 40.0, "ratio_r": 100.0} if plate else {}),
        }
        write_layer(folder, "meters", meters)
        path = folder / "readings/zones.csv"
        rows = pd.read_csv(path)
        sign = 1 if downstream == "B" else -1
        rows["value"] = rows["value"].astype(float)
        rows.loc[rows["device_id"] == "MB", "value"] = sign * np.array(flow_l_s)
        rows.to_csv(path, index=False)
        return balance_folder(folder)[1]


@given(FLOWS)
@FEW
def test_flag_and_sign_turned_together_change_nothing(flow_l_s: list[float]) -> None:
    one, other = balanced(flow_l_s, downstream="B"), balanced(flow_l_s, downstream="A")
    for name in TABLES:
        pd.testing.assert_frame_equal(
            getattr(one, name), getattr(other, name), rtol=1e-9, atol=1e-9
        )
    assert one.basis == other.basis


@given(FLOWS)
@FEW
def test_zones_sum_to_what_crosses_the_outer_edge(flow_l_s: list[float]) -> None:
    found, still = (balanced(f, downstream="B") for f in (flow_l_s, [0.0] * len(flow_l_s)))
    for table, day, column in (("nights", "night", "inflow_l_s"), ("days", "day", "inflow_m3")):
        whole = [getattr(b, table).groupby(day)[column].sum() for b in (found, still)]
        np.testing.assert_allclose(whole[0], whole[1], rtol=1e-9, atol=1e-9)
    # Nor does a meter inside, however much passed it, widen the limits of the whole.
    edge = [
        b.annual.set_index(["cell_id", "component"]).loc[("district", "system input volume")]
        for b in (found, still)
    ]
    np.testing.assert_allclose(edge[0][EDGE].astype(float), edge[1][EDGE].astype(float))


def test_its_error_is_of_what_passed_either_way() -> None:
    # 3 L/s on, 3 L/s back: nothing in all, and well above the plate's Q1 of 0.11 L/s.
    turning = [3.0 + 0.001 * h if h % 2 else -3.0 - 0.001 * h for h in range(73)]
    for plate in (False, True):
        found = balanced(turning, downstream="B", plate=plate)
        b = found.nights.set_index("cell_id").loc["B"]
        half = b["inflow_l_s_high"] - b["inflow_l_s"]
        assert (b["inflow_l_s"].abs() < 0.01).all()
        np.testing.assert_allclose(half, 0.02 * 3.0, rtol=0.05)
        assert not any("below the minimum flow Q1" in s for s in found.basis.limits)


EDGE = ["volume_m3", "volume_m3_low", "volume_m3_high"]
