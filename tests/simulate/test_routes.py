import numpy as np
import pytest

from district.simulate.routes import POWER, route
from district.simulate.scenario import ZONE_IDS, ZONES

BY_ID = {z.zone_id: z for z in ZONES}


def _routed(**changed):
    inflow = {z: np.array([1.0, 2.0, 0.3]) for z in ZONE_IDS}
    inflow |= {z: np.array(values) for z, values in changed.items()}
    exchange = np.array([0.0, 0.5, 0.1])
    return inflow, *route(inflow, exchange, reduced_head_m=222.0)


def test_meters_carry_what_is_beyond_them():
    inflow, meters, _, _ = _routed()
    np.testing.assert_allclose(meters["ZM-T"], sum(inflow.values()))
    np.testing.assert_allclose(meters["ZM-C1"], inflow["C1"] + inflow["C2"] + inflow["C3"])
    np.testing.assert_allclose(meters["ZM-C4"], [1.0, 2.5, 0.4])
    np.testing.assert_allclose(meters["ZM-V3"], [1.0, 1.5, 0.2])
    np.testing.assert_allclose(meters["ZM-V1"] + meters["ZM-V2"], inflow["V1"] + inflow["V2"])


@pytest.mark.parametrize(("v1", "v2", "sign"), [(3.0, 0.5, -1), (0.5, 3.0, 1)])
def test_the_transfer_flows_to_the_thirstier_zone(v1, v2, sign):
    _, meters, _, _ = _routed(V1=[v1] * 3, V2=[v2] * 3)
    assert (np.sign(meters["ZM-V1V2"]) == sign).all()


def test_both_ways_round_the_village_lose_the_same_head():
    _, meters, head, _ = _routed(V1=[3.0, 1.0, 0.2], V2=[0.5, 2.0, 0.9])
    transfer = meters["ZM-V1V2"]
    # 0.25 m at 1 L/s through the transfer main.
    lost = np.sign(transfer) * 0.25 * np.abs(transfer) ** POWER
    np.testing.assert_allclose(head["V1"] - head["V2"], lost, atol=1e-6)


def test_heads_fall_along_the_feed_and_with_flow():
    _, _, head, loss = _routed()
    for zone in ("C1", "C4", "V1", "V2"):
        assert (head[zone] < head["T"]).all()
        assert head[zone][1] < head[zone][2]
    assert (head["C2"] < head["C1"]).all()
    assert (head["V3"] <= 222.0).all()
    zone = BY_ID["V1"]
    expected = zone.streets_m * (2.0 / zone.design_l_s) ** 1.85
    assert loss["V1"][1] == pytest.approx(expected)
