import numpy as np
import pandas as pd
import pytest

from district.simulate.sound import acoustic_readings, at_places, least_way, loss_db, travel_s


def test_noise_travels_fast_in_iron_and_slowly_in_plastic(year):
    seconds = travel_s(year.layout, year.true, np.random.default_rng(1))
    material = year.layout.pipes.set_index("pipe_id")["material"]
    own = year.true.link_pipe != ""
    speed = year.true.model.length_m[own] / seconds[own]
    by = pd.Series(speed).groupby(material[year.true.link_pipe[own]].to_numpy()).median()
    # Cast iron 1,285 m/s, HDPE 281 m/s: derived from the wave speed formula (catalogue).
    assert by["cast_iron"] == pytest.approx(1285, rel=0.06)
    assert 250 < by["polyethylene"] < 350


def test_the_least_way_is_that_along_the_pipes(year):
    true = year.true
    length = true.model.length_m
    node = true.node("L1")
    ways = least_way(true, length, node)
    assert ways[node] == 0
    leak = year.leaks.loc[["L1"]]
    assert at_places(true, length, ways, leak) == pytest.approx([0.0], abs=1e-9)
    pipe = year.layout.pipes.set_index("pipe_id").geometry[leak["pipe_id"].iloc[0]]
    end = pd.DataFrame({"pipe_id": leak["pipe_id"], "share": 1.0})
    rest = (1 - leak["share"].iloc[0]) * pipe.length
    assert at_places(true, length, ways, end) == pytest.approx([rest])
    link = int(np.flatnonzero(true.model.start == node)[0])
    around = least_way(true, length, node, without=link)
    assert around[true.model.end[link]] > ways[true.model.end[link]]


def test_a_shut_off_place_is_never_reached(year):
    true = year.true
    stub = true.piece(
        year.layout.pipes.loc[year.layout.pipes["part"] == "stub", "pipe_id"].iloc[0], 0
    )
    ways = least_way(true, true.model.length_m, true.node("L1"), without=stub[0])
    assert np.isinf(ways[true.model.start[stub[0]]])


def test_loggers_near_the_leak_hear_it_from_its_start_on(year):
    night = year.clock.hour == 3
    leaks = pd.DataFrame(0.0, index=year.clock.utc, columns=list(year.leaks.index))
    leaks.loc["2025-07-09":, "L1"] = 1.2
    read = acoustic_readings(
        year.clock, year.layout, year.true, year.sensors(), leaks, np.random.default_rng(2)
    )
    assert (read.groupby("device_id").size() == night.sum()).all()
    level = read.pivot(index="time", columns="device_id", values="value")
    rise = level["2025-07-10":].median() - level[:"2025-07-08"].median()
    loggers = year.devices.sensors.query("kind == 'acoustic'")
    lost = loss_db(year.layout, year.true)
    away = at_places(year.true, lost, least_way(year.true, lost, year.true.node("L1")), loggers)
    nearest = loggers["sensor_id"].iloc[int(away.argmin())]
    assert rise.idxmax() == nearest
    assert rise[nearest] > 6
    assert rise.min() < 6
