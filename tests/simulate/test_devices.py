import numpy as np
import pytest
import shapely

from district.schema import check
from district.schema.inputs import METERS, SENSORS, SOURCES, VALVES
from district.simulate.devices import (
    ACOUSTIC_LOGGERS,
    METALS,
    PRESSURE_LOGGERS,
    place_devices,
)
from district.simulate.layout import lay_out


@pytest.fixture(scope="module")
def layout():
    return lay_out(np.random.default_rng([7, 0]))


@pytest.fixture(scope="module")
def devices(layout):
    return place_devices(layout, np.random.default_rng([7, 1]))


def test_tables_meet_the_schema(devices):
    for table in (VALVES, METERS, SENSORS, SOURCES):
        frame = getattr(devices, table.name)
        assert check(table, frame, source=table.name)[1] == ()


def test_valves_stand_on_a_pipe_2_to_8_m_from_a_junction(layout, devices):
    valves = devices.valves
    assert 180 <= len(valves) <= 220
    mains = layout.pipes.geometry.union_all()
    ends = shapely.points([line.coords[end] for line in layout.pipes.geometry for end in (0, -1)])
    junctions = shapely.union_all(ends)
    own = valves[valves["kind"] == "isolation"]
    assert own.distance(mains).max() < 1e-6
    off = own.distance(junctions)
    assert off.min() > 1.5
    assert off.max() <= 8
    assert 1 <= (~own["operable"]).sum() <= 15


def test_boundary_valves_are_shut_and_the_reducing_valve_is_before_its_meter(devices):
    valves = devices.valves.set_index("valve_id")
    shut = valves[valves["state"] == "shut"]
    assert len(shut) >= 3
    assert set(shut["kind"]) == {"boundary"}
    reducing = valves.loc["PRV-V3"]
    assert reducing["setting_m"] == 33
    meter = devices.meters.set_index("meter_id").geometry["ZM-V3"]
    assert 5 < meter.distance(reducing.geometry) < 40


def test_zone_meters_point_downstream(layout, devices):
    meters = devices.meters.set_index("meter_id")
    assert meters["downstream"]["ZM-T"] == "T"
    assert meters["downstream"]["ZM-V1V2"] == "V2"
    assert set(meters["role"]) == {"inlet", "transfer", "outlet"}
    assert set(meters["kind"]) == {"register", "pulse", "electromagnetic", "transit_time"}
    mains = layout.pipes.geometry.union_all()
    assert meters.distance(mains).max() < 1e-6


def test_the_source_is_the_start_of_the_first_pipe(layout, devices):
    start = shapely.Point(layout.pipes.geometry.iloc[0].coords[0])
    assert devices.sources.geometry.iloc[0].distance(start) < 1e-6


def test_every_zone_has_a_pressure_logger_and_some_have_several_well_apart(layout, devices):
    loggers = devices.sensors[devices.sensors["kind"] == "pressure"]
    counts = loggers["zone_id"].value_counts()
    assert counts.to_dict() == PRESSURE_LOGGERS
    assert set(counts.index) == set(layout.zones["zone_id"])
    assert loggers["elevation_m"].notna().all()
    for zone in ("C1", "V1", "V3"):
        own = loggers.geometry[loggers["zone_id"] == zone]
        apart = [own.drop(row).distance(place).min() for row, place in own.items()]
        assert min(apart) > 100


def test_acoustic_loggers_stand_on_metal_pipes_of_one_zone(layout, devices):
    loggers = devices.sensors[devices.sensors["kind"] == "acoustic"]
    assert loggers["zone_id"].value_counts().to_dict() == ACOUSTIC_LOGGERS
    material = layout.pipes.set_index("pipe_id")["material"][loggers["pipe_id"]]
    assert set(material) <= set(METALS)


def test_valves_and_loggers_know_their_place_on_the_pipe(layout, devices):
    lines = layout.pipes.set_index("pipe_id").geometry
    for frame in (devices.valves, devices.sensors):
        place = lines[frame["pipe_id"]].interpolate(frame["share"].to_numpy(), normalized=True)
        off = place.reset_index(drop=True).distance(frame.geometry.reset_index(drop=True))
        assert off.max() < 1e-6
