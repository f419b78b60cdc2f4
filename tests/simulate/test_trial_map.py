"""The drawn map: sizes, nesting, users."""

from __future__ import annotations

import numpy as np
import pytest

from district.simulate.trial_map import SOURCE, TRUNK, TrialMap, draw_map


def drawn(seed: int = 1, **changes: object) -> TrialMap:
    sizes: dict[str, object] = {
        "connections_count": 400,
        "zones_count": 5,
        "with_pressure": True,
        "metered_share": 0.3,
    }
    return draw_map(np.random.default_rng(seed), **(sizes | changes))  # type: ignore[arg-type]


def test_zones_are_nested_below_a_metered_source() -> None:
    found = drawn()
    inlets = found.edges.set_index("meter_id")
    assert list(inlets.loc["ZM-SRC", ["upstream_cell_id", "downstream_cell_id"]]) == [SOURCE, TRUNK]
    # A chain of three, and a zone with two inlets.
    assert inlets.at["ZM-Z01", "upstream_cell_id"] == TRUNK
    assert inlets.at["ZM-Z02", "upstream_cell_id"] == "Z01"
    assert inlets.at["ZM-Z03", "upstream_cell_id"] == "Z02"
    assert (found.edges["downstream_cell_id"] == "Z05").sum() == 2
    assert set(inlets.loc[inlets["role"] == "inlet", "upstream_cell_id"]) <= {SOURCE, TRUNK}


@pytest.mark.parametrize("seed", range(8))
def test_every_zone_is_fed_by_one_before_it(seed: int) -> None:
    found = drawn(seed, zones_count=9)
    order = {c: n for n, c in enumerate([SOURCE, *found.cells.index])}
    for row in found.edges.itertuples():
        assert order[row.upstream_cell_id] < order[row.downstream_cell_id]
    assert set(found.edges["downstream_cell_id"]) == set(found.cells.index)


def test_sizes_add_up() -> None:
    found = drawn()
    assert len(found.taps) == found.cells["connections_count"].sum() == 400
    assert found.cells["properties_count"].sum() == found.taps["properties"].sum()
    assert found.cells["private_km"].sum() == pytest.approx(
        found.taps["private_pipe_m"].sum() / 1e3
    )
    assert found.cells.at[TRUNK, "connections_count"] == 0


def test_buildings_have_meters_and_so_have_the_wanted_share_of_customers() -> None:
    found = drawn(connections_count=4000)
    campus = found.taps["use_class"] == "campus"
    assert (found.taps.loc[campus, "meter_id"] != "").all()
    assert (found.taps.loc[~campus, "meter_id"] != "").mean() == pytest.approx(0.3, abs=0.03)
    assert set(found.users["meter_id"]) == set(found.taps["meter_id"]) - {""}


def test_loggers_stand_in_every_zone_or_nowhere() -> None:
    assert set(drawn().loggers["cell_id"]) == {f"Z0{n}" for n in range(1, 6)}
    assert drawn(with_pressure=False).loggers.empty


def test_one_zone_alone_has_no_boundary_valve() -> None:
    found = drawn(zones_count=1)
    assert found.valves.empty
    assert list(found.edges["downstream_cell_id"]) == [TRUNK, "Z01"]
