"""A stretch shut off, and the map judged by its valves, from the sample's layers alone."""

from __future__ import annotations

import shutil
from pathlib import Path

import pandas as pd
import pytest

from district import isolate
from district.errors import Finding, InputError, UnsettledError
from district.opening import Mapped, open_map
from district.results import Basis, Events, Location
from district.schema import empty
from district.schema.outputs import EVENTS
from district.shutting import event_plan, plan_folder, valves_folder

SAMPLE = Path(__file__).parents[1] / "sample_network"


def segments_in(mapped: Mapped) -> isolate.Segments:
    return isolate.segments_of(mapped.network, settings=mapped.settings)


@pytest.fixture(scope="module")
def layers(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sample without a reading: none is needed."""
    folder = tmp_path_factory.mktemp("shutting") / "layers"
    shutil.copytree(SAMPLE, folder, ignore=shutil.ignore_patterns("readings", ".district"))
    return folder


def test_a_pipe_a_place_on_it_and_its_coordinates_are_one_plan(layers: Path) -> None:
    by_pipe = plan_folder(layers, pipes=["P0256"])
    to_shut = by_pipe.plan.valves.query("action == 'shut'")["valve_id"].tolist()
    assert len(to_shut) >= 2
    along = plan_folder(layers, pipes=["P0256"], from_west_m=20.0)
    assert along.plan.valves["valve_id"].tolist() == by_pipe.plan.valves["valve_id"].tolist()
    line = by_pipe.mapped.network.pipes.query("layer_pipe_id == 'P0256'").geometry
    middle = line.interpolate(20.0).to_crs("EPSG:4326").iloc[0]
    at = plan_folder(layers, at=(middle.x, middle.y))
    assert f"longitude {middle.x:g}" in at.target  # as it was asked for
    assert at.plan.valves["valve_id"].tolist() == by_pipe.plan.valves["valve_id"].tolist()
    assert not (layers / ".district").exists()


def test_a_valve_that_does_not_close_is_not_among_those_to_shut(layers: Path) -> None:
    first = plan_folder(layers, pipes=["P0256"]).plan
    stuck = first.valves["valve_id"].iloc[0]
    again = plan_folder(layers, pipes=["P0256"], stuck=[stuck]).plan
    shut = again.valves.query("action == 'shut'")["valve_id"]
    assert stuck not in set(shut)
    assert again.areas["properties_count"].sum() >= first.areas["properties_count"].sum()
    row = first.failures.set_index("valve_id").loc[stuck]
    assert set(str(row["also_shut"]).split(", ")) <= set(shut)


def test_a_valve_that_a_crew_found_stuck_is_taken_as_not_closing(
    layers: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "told"
    shutil.copytree(layers, folder)
    first = plan_folder(layers, pipes=["P0256"]).plan
    stuck = str(first.valves["valve_id"].iloc[0])
    (folder / "entries").mkdir()
    (folder / "entries/job.csv").write_text(
        f"record,time,place_id,state\nvalve,2025-12-30,{stuck},seized\nvalve,2025-12-30,V0,seized\n"
    )
    told = plan_folder(folder, pipes=["P0256"])
    named = plan_folder(layers, pipes=["P0256"], stuck=[stuck])
    assert told.plan.said == named.plan.said
    assert told.plan.valves.equals(named.plan.valves)
    assert any(f"valve {stuck} did not close" in f.got for f in told.mapped.findings)
    overview = valves_folder(folder)
    assert stuck not in set(overview.valve_losses["valve_id"])
    assert len(overview.segments) == len(valves_folder(layers).segments) - 1


def test_the_pressure_that_is_left_is_told_or_why_not(
    layers: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = plan_folder(layers, pipes=["P0256"])
    assert found.pressure is not None
    assert found.pressure_missing == ""

    def unsettled(*_: object, **__: object) -> None:
        raise UnsettledError([Finding("error", "pipes", "", "", "no balance", "one", "Look")])

    monkeypatch.setattr(isolate, "pressure_left", unsettled)
    without = plan_folder(layers, pipes=["P0256"])
    assert without.pressure is None
    assert "no balance" in without.pressure_missing
    assert without.plan.said == found.plan.said


@pytest.mark.parametrize(
    "asked",
    [
        {},
        {"stuck": ["V101"]},
        {"pipes": ["P0256", "P0257"], "from_west_m": 3.0},
        {"from_west_m": 3.0},
        {"pipes": ["P0256"], "at": (-1.93, 54.35)},
        {"pipes": ["P9999"]},
        {"pipes": ["P0256"], "from_west_m": 1e6},
        {"pipes": ["P0256"], "stuck": ["nothing"]},
        {"at": (0.0, 0.0)},
    ],
)
def test_what_is_not_clear_is_refused(layers: Path, asked: dict) -> None:
    with pytest.raises(InputError) as refused:
        plan_folder(layers, **asked)
    assert all(f.expected and f.remedy for f in refused.value.findings)


def test_the_whole_map_by_its_valves(layers: Path) -> None:
    found = valves_folder(layers)
    assert len(found.segments) == len(found.segment_losses)
    assert found.segment_losses["rank"].tolist() == list(range(1, len(found.segments) + 1))
    assert len(found.new_valves) == 5
    assert any("source" in f.expected for f in found.findings)


def test_a_building_is_its_connection_and_tells_whom_a_leak_there_reaches(layers: Path) -> None:
    by_building = plan_folder(layers, building="Quern House")
    by_connection = plan_folder(layers, connection="S0034")
    assert by_building.plan.valves.equals(by_connection.plan.valves)
    assert by_building.cascade["connection_id"].iloc[0] == "S0034"
    assert plan_folder(layers, pipes=["P0256"]).cascade.empty
    with pytest.raises(InputError, match="the closest is Quern House"):
        plan_folder(layers, building="Quern Hous")
    with pytest.raises(InputError, match="more than one"):
        plan_folder(layers, building="Quern House", pipes=["P0256"])


def test_a_leak_that_is_not_looked_for_is_refused_by_what_is(layers: Path) -> None:
    mapped = open_map(layers)
    sets = pd.DataFrame({"sought_id": ["E-V1-2025-07-09"]})
    stretches = pd.DataFrame({"stretch_id": ["P0001"], "cell_id": ["V1"], "sought_ids": [""]})
    location = Location(pd.DataFrame(), stretches, sets, Basis())
    with pytest.raises(InputError, match="the closest is E-V1-2025-07-09"):
        event_plan(
            mapped, segments_in(mapped), Events(empty(EVENTS), Basis()), location, "E-V1-2025-07-08"
        )


def test_a_leak_is_shut_off_where_it_most_likely_lies(layers: Path) -> None:
    mapped = open_map(layers)
    pipes = mapped.network.pipes
    own = pipes.index[pipes["layer_pipe_id"] == "P0256"]
    likelihood = pd.DataFrame(
        {"pipe_id": own, "stretch_id": "P0256", "cell_id": "Z", "probability_share": 1 / len(own)}
    )
    stretches = pd.DataFrame({"stretch_id": ["P0256"], "cell_id": ["Z"], "sought_ids": ["E-1"]})
    location = Location(likelihood, stretches, pd.DataFrame({"sought_id": ["E-1"]}), Basis())
    found = event_plan(mapped, segments_in(mapped), Events(empty(EVENTS), Basis()), location, "E-1")
    assert "(the leak of E-1 is there with" in found.target
    assert found.leak_segments["probability_share"].is_monotonic_decreasing
    shut = found.plan.valves.query("action == 'shut'")["valve_id"]
    assert len(shut) == found.leak_segments["valves_count"].iloc[0]
