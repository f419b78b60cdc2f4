from __future__ import annotations

from collections.abc import Callable

from shapely.geometry import Point

from district.check.connections import check_connections
from district.check.wording import EACH
from district.results import Inputs
from district.settings import Settings

Change = Callable[..., Inputs]
Says = Callable[..., list[str]]


def test_clean_connections_give_no_finding(inputs: Inputs, settings: Settings) -> None:
    assert check_connections(inputs, settings=settings) == []


def test_unknown_meter(inputs: Inputs, settings: Settings, edit: Change, says: Says) -> None:
    broken = edit(inputs, "connections", "C2", meter_id="K9")
    assert says(check_connections(broken, settings=settings)) == [
        'warning: connections.geojson, connection C2, column meter_id: got "K9", expected a '
        "meter_id of meters.geojson: K1. Correct the value, or add the meter to "
        "meters.geojson; until then its use is taken from the allowance."
    ]


def test_unknown_use_class_is_told_once(
    inputs: Inputs, settings: Settings, edit: Change, says: Says
) -> None:
    broken = edit(inputs, "connections", "C2", use_class="school")
    broken = edit(broken, "connections", "C3", use_class="school")
    broken = edit(broken, "connections", "C1", use_class="commercial")
    assert says(check_connections(broken, settings=settings)) == [
        "warning: connections.geojson, connections C2 and C3, column use_class: got "
        '"school", expected a class in section allowances of district.toml: commercial or '
        "household. Correct the class, or add it to that section; until then the household "
        "allowance is used."
    ]


def test_zone_meter_named_by_a_connection(
    inputs: Inputs, settings: Settings, edit: Change, says: Says
) -> None:
    broken = edit(inputs, "connections", "C2", meter_id="M2")
    broken = edit(broken, "connections", "C3", meter_id="M2")
    assert says(check_connections(broken, settings=settings)) == [
        "error: meters.geojson, meter M2, column role: got transfer, and named by connections C2 "
        "and C3, expected a meter either on a main between zones or at a connection. Correct its "
        "role, or the meter_id of the connection."
    ]


def test_shared_meter(inputs: Inputs, settings: Settings, edit: Change, says: Says) -> None:
    broken = edit(inputs, "connections", "C2", meter_id="K1")
    assert says(check_connections(broken, settings=settings)) == [
        'note: connections.geojson, connections C1 and C2, column meter_id: got "K1" for all 2, '
        "expected a meter of their own, unless one measures them together. Check that this meter "
        "measures them all."
    ]


def test_many_shared_meters_end_in_one_sentence(
    inputs: Inputs, settings: Settings, add: Change, says: Says
) -> None:
    meters = [
        {"meter_id": f"J{n}", "geometry": Point(250, 9), "role": "customer"} for n in range(20)
    ]
    users = [
        {"connection_id": f"D{n}", "geometry": Point(250, 9), "meter_id": f"J{n // 2}"}
        for n in range(40)
    ]
    broken = add(add(inputs, "meters", *meters), "connections", *users)
    found = says(check_connections(broken, settings=settings))
    assert len(found) == EACH + 1
    assert found[-1] == (
        "note: connections.geojson, column meter_id: got 8 more meters that several connections "
        "name, expected a meter of their own, unless one measures them together. Check that each "
        "of these meters measures them all."
    )


def test_meters_no_connection_names(
    inputs: Inputs, settings: Settings, edit: Change, add: Change, says: Says
) -> None:
    broken = edit(inputs, "connections", "C1", meter_id=None)
    broken = add(
        broken,
        "meters",
        {"meter_id": "J1", "geometry": Point(250, 9), "role": "customer"},
        {"meter_id": "J2", "geometry": Point(250, 9), "role": "customer"},
    )
    assert says(check_connections(broken, settings=settings)) == [
        "warning: meters.geojson, meter K1: got building, but no connection names it, expected a "
        "connection with this meter_id. Fill in meter_id in connections.geojson; until then the "
        "use it measures is not subtracted from the inflow.",
        "note: meters.geojson, meters J1 and J2: got customer, but no connection names them, "
        "expected a connection with this meter_id. Fill in meter_id in connections.geojson; until "
        "then the use it measures is not subtracted from the inflow.",
    ]
