from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace
from typing import Any

import pandas as pd
import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from shapely.geometry import Point, box

from district.check import check_tables
from district.results import Inputs
from district.settings import ExceptionalUse, Settings
from tests.examples import examples

Change = Callable[..., Inputs]
Says = Callable[..., list[str]]


def test_a_clean_district_gives_no_finding(inputs: Inputs, settings: Settings) -> None:
    assert check_tables(inputs, settings=settings) == ()


def test_unknown_downstream(inputs: Inputs, settings: Settings, edit: Change, says: Says) -> None:
    broken = edit(inputs, "meters", "M2", downstream="QUAI")
    assert says(check_tables(broken, settings=settings)) == [
        'error: meters.geojson, meter M2, column downstream: got "QUAI", expected a zone_id of '
        "zones.geojson: MILL or QUAY. Correct the value, or add the zone to zones.geojson."
    ]


@pytest.mark.parametrize("empty", [None, " "])
def test_zone_meter_without_downstream(
    empty: Any, inputs: Inputs, settings: Settings, edit: Change, says: Says
) -> None:
    broken = edit(inputs, "meters", "M1", downstream=empty)
    assert says(check_tables(broken, settings=settings)) == [
        "error: meters.geojson, meter M1, column downstream: got nothing, expected a zone_id of "
        "zones.geojson, the zone on the side positive flow goes to. Fill it in; without it the "
        "flow cannot be given to a zone."
    ]


def test_unknown_parent(inputs: Inputs, settings: Settings, edit: Change, says: Says) -> None:
    broken = edit(inputs, "zones", "QUAY", parent_id="HILL")
    assert says(check_tables(broken, settings=settings)) == [
        'error: zones.geojson, zone QUAY, column parent_id: got "HILL", expected a zone_id of '
        "zones.geojson: MILL or QUAY. Correct the value, or leave it empty if the zone is fed "
        "straight from a source."
    ]


def test_ring_of_parents(inputs: Inputs, settings: Settings, edit: Change, says: Says) -> None:
    broken = edit(inputs, "zones", "MILL", parent_id="QUAY")
    assert says(check_tables(broken, settings=settings)) == [
        "error: zones.geojson, zones MILL and QUAY, column parent_id: got a ring: MILL is fed "
        "through QUAY, QUAY is fed through MILL, expected a chain of zones that ends at one "
        "without a parent. Leave parent_id empty for the zone that the water reaches first."
    ]


def test_a_zone_that_is_its_own_parent_and_one_behind_it(
    inputs: Inputs, settings: Settings, edit: Change, says: Says
) -> None:
    broken = edit(inputs, "zones", "MILL", parent_id="MILL")
    assert says(check_tables(broken, settings=settings)) == [
        "error: zones.geojson, zone MILL, column parent_id: got a ring: MILL is fed through MILL, "
        "expected a chain of zones that ends at one without a parent. Leave parent_id empty for "
        "the zone that the water reaches first."
    ]


def test_exceptional_use_in_an_unknown_zone(inputs: Inputs, settings: Settings, says: Says) -> None:
    uses = (
        ExceptionalUse(zone_id="DOCK", flow_l_s=0.4),
        ExceptionalUse(zone_id="QUAY", flow_l_s=0.1),
    )
    broken = settings.model_copy(update={"exceptional_use": uses})
    assert says(check_tables(inputs, settings=broken)) == [
        'error: district.toml, section exceptional_use, column zone_id: got "DOCK", expected a '
        "zone_id of zones.geojson: MILL or QUAY. Correct the value."
    ]


def test_names_of_the_annual_balance_that_nothing_has(
    inputs: Inputs, settings: Settings, says: Says
) -> None:
    known = sorted(set(inputs.connections["use_class"].dropna()) - {""})
    annual = settings.annual.model_copy(
        update={"unbilled_classes": (known[0], "church"), "imported_meters": ("M1", "M99")}
    )
    found = says(check_tables(inputs, settings=settings.model_copy(update={"annual": annual})))
    assert [f.split(", expected")[0] for f in found] == [
        'warning: district.toml, section annual, column unbilled_classes: got "church"',
        'warning: district.toml, section annual, column imported_meters: got "M99"',
    ]
    assert "expected a use_class of connections.geojson: " in found[0]
    assert found[0].endswith("Correct the value; until then no use counts as unbilled by it.")
    assert "expected the meter_id of a zone meter of meters.geojson: " in found[1]


def test_pressure_logger_without_elevation(
    inputs: Inputs, settings: Settings, edit: Change, add: Change, says: Says
) -> None:
    broken = edit(inputs, "sensors", "L1", elevation_m=float("nan"))
    wet_floor = {"sensor_id": "W1", "geometry": Point(0, 0), "kind": "wet_floor"}
    broken = add(broken, "sensors", wet_floor)
    assert says(check_tables(broken, settings=settings)) == [
        "warning: sensors.geojson, sensor L1, column elevation_m: got nothing, expected the level "
        "of the gauge in m, as every pressure logger needs. Fill it in; until then its pressure "
        "is used as it stands, not brought to the level of the zone."
    ]


def test_no_pipe_in_use(inputs: Inputs, settings: Settings, says: Says) -> None:
    broken = replace(inputs, pipes=inputs.pipes.assign(status="planned"))
    assert says(check_tables(broken, settings=settings)) == [
        "error: pipes.geojson: got no pipe in use, expected at least one pipe with status in_use. "
        "Add the mains, or correct their status."
    ]


def test_no_inlet_meter(inputs: Inputs, settings: Settings, edit: Change, says: Says) -> None:
    broken = edit(inputs, "meters", "M1", role="transfer")
    assert says(check_tables(broken, settings=settings)) == [
        "error: meters.geojson, column role: got no inlet meter, expected at least one meter with "
        "role inlet, where water enters a zone. Add the inlet meters, or correct their role; no "
        "zone can be balanced without one."
    ]


def test_inputs_are_not_changed(inputs: Inputs, settings: Settings) -> None:
    before = {f.name: _copy(getattr(inputs, f.name)) for f in fields(inputs)}
    check_tables(inputs, settings=settings)
    for name, table in before.items():
        if isinstance(table, pd.DataFrame):
            pd.testing.assert_frame_equal(table, getattr(inputs, name))


def _copy(value: Any) -> Any:
    return value.copy(deep=True) if isinstance(value, pd.DataFrame) else value


@hypothesis_settings(
    deadline=None,
    max_examples=examples(6),
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(seed=st.integers(0, 2**32 - 1))
def test_the_order_of_rows_changes_nothing(
    seed: int, inputs: Inputs, settings: Settings, edit: Change, add: Change
) -> None:
    broken = edit(inputs, "zones", "MILL", parent_id="QUAY")
    broken = add(
        broken, "zones", {"zone_id": "HILL", "geometry": box(0, 0, 1, 1), "parent_id": "X"}
    )
    broken = edit(broken, "meters", "M2", downstream="QUAI")
    broken = edit(broken, "connections", "C2", meter_id="M1", use_class="school")
    broken = edit(broken, "connections", "C3", meter_id="K1", use_class="school")
    broken = add(
        broken,
        "works",
        *[
            {"start": "2025-04-01", "end": "2025-03-01", "kind": "repair", "place_id": f"X{n % 3}"}
            for n in range(5)
        ],
    )
    shuffled = replace(
        broken,
        **{
            f.name: getattr(broken, f.name).sample(frac=1, random_state=seed)
            for f in fields(broken)
            if isinstance(getattr(broken, f.name), pd.DataFrame)
        },
    )
    found = check_tables(broken, settings=settings)
    assert len(found) > 8
    assert check_tables(shuffled, settings=settings) == found
    renumbered = replace(shuffled, works=shuffled.works.reset_index(drop=True))
    assert check_tables(renumbered, settings=settings) == found
