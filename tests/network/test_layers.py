from __future__ import annotations

from district.network import build_network, map_layers
from district.results import Inputs
from district.settings import Settings


def test_zones_are_the_cells_that_carry_them_and_meters_know_their_sides(inputs: Inputs) -> None:
    network = build_network(inputs, settings=Settings())
    drawn = map_layers(network)
    assert dict(zip(drawn.zones["cell_id"], drawn.zones["name"], strict=True)) == {
        "A": "Upper",
        "B": "B",
    }
    sides = drawn.meters.set_index("meter_id")[["upstream_cell_id", "downstream_cell_id"]]
    assert sides.loc["M2"].to_list() == ["A", "B"]
    assert sides.loc["C1"].to_list() == ["", ""]
    assert list(drawn.pipes["pipe_id"]) == list(network.pipes.index)
    assert drawn.pipes.crs == network.pipes.crs
