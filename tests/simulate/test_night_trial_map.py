"""A row of zones: every cut is where the pipes of its zones meet."""

from __future__ import annotations

from district.network import Network
from district.simulate.night_trial_map import row_of_zones


def two() -> Network:
    return row_of_zones(
        ["Z01", "Z02"],
        meters=[("M01", "", "Z01"), ("M02", "Z01", "Z02")],
        valves=[("V01", "Z01", "Z02")],
    )


def test_pipes_of_both_zones_meet_at_the_meter_and_at_the_valve_between() -> None:
    network = two()
    cuts = network.nodes["cut"].to_numpy()[network.pipes["end_position"]]
    met = {c: set(network.pipes["cell_id"][cuts == c]) for c in ("M01", "M02", "V01")}
    assert met == {"M01": {"Z01"}, "M02": {"Z01", "Z02"}, "V01": {"Z01", "Z02"}}
    assert (network.pipes["length_m"] > 0).all()


def test_meters_say_which_way_water_goes() -> None:
    network = two()
    assert network.boundaries.set_index("meter_id")["role"].to_dict() == {
        "M01": "inlet",
        "M02": "transfer",
    }
    assert network.cells["parent_cell_id"].to_dict() == {"Z01": "", "Z02": "Z01"}
    assert list(network.valves.index) == ["V01"]


def test_zones_lie_side_by_side_and_do_not_overlap() -> None:
    one, other = two().zones.geometry
    assert one.touches(other)


def test_a_single_zone_has_no_neighbour() -> None:
    network = row_of_zones(["Z01"], meters=[("M01", "", "Z01")])
    assert len(network.cells) == 1
    assert network.valves.empty
