"""The jobs of a folder, what is to be searched typed by hand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from district import pipeline
from district.errors import InputError
from district.fieldwork import jobs_folder, write_jobs
from district.results import Basis, Events
from district.schema.entry_forms import ENTRY_FORM
from district.schema.outputs import EVENTS, SEARCH_SETS
from tests.render.sheets import rows
from tests.survey.scenes import ladder, located

SCENE = {"B": (0.6, None, None), "G": (0.3, 20.0, 80.0)}


def found_in(folder: Path) -> tuple[Any, ...]:
    """A leak looked for on B and G of the ladder, and a flow in the building behind meter M9."""
    network = ladder()
    homes = network.connections.assign(
        meter_id=["M9" if c == "H3" else "" for c in network.connections.index]
    )
    opened, balance, _, location = located(replace(network, connections=homes), SCENE, folder)
    sets = rows(
        SEARCH_SETS,
        {"sought_id": "E-Z-1", "cell_id": "Z", "set_km": 0.16, "mains_km": 0.9, "held_share": 0.9},
    )
    events = rows(
        EVENTS,
        {"event_id": "E-Z-1", "place_kind": "zone", "place_id": "Z", "cell_id": "Z", "rank": 2,
         "state": "open", "act": True, "kind": "leak", "start": pd.Timestamp("2025-06-01")},
        {"event_id": "E-M1-1", "place_kind": "building", "place_id": "M9", "cell_id": "Z",
         "rank": 1, "state": "open", "act": True, "kind": "building_flow",
         "start": pd.Timestamp("2025-06-01")},
        {"event_id": "E-M1-0", "place_kind": "building", "place_id": "M9", "cell_id": "Z",
         "rank": 3, "state": "repaired", "act": False, "kind": "building_flow",
         "start": pd.Timestamp("2025-02-01")},
    )  # fmt: skip
    return opened, balance, Events(events, Basis()), replace(location, search_sets=sets)


@pytest.fixture(autouse=True)
def _located(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    given = found_in(tmp_path)
    monkeypatch.setattr(pipeline, "locate_folder", lambda _, **__: given)


def test_each_leak_looked_for_and_each_open_flow_indoors_is_a_job_by_rank(tmp_path: Path) -> None:
    jobs = jobs_folder(tmp_path).jobs
    assert [j.job_id for j in jobs] == ["E-M1-1", "E-Z-1"]
    indoors, street = jobs
    assert indoors.cascade["connection_id"].iloc[0] == "H3"
    assert indoors.legs.empty
    assert street.cascade.empty
    assert street.legs["stretch_id"].tolist() == ["B", "G"] or set(street.legs["stretch_id"]) == {
        "B",
        "G",
    }
    assert street.leak_segments["probability_share"].is_monotonic_decreasing
    assert street.zone == "Upper row"


def test_the_form_holds_what_is_known_and_comes_back_as_it_went(tmp_path: Path) -> None:
    found = jobs_folder(tmp_path, events=["E-Z-1"])
    form = found.jobs[0].form
    assert list(form.columns) == list(ENTRY_FORM.names())
    walked = form[form["place_id"].isin(["B", "G"])].set_index("place_id")
    assert (walked.loc["G", "from_m"], walked.loc["G", "to_m"]) == (20.0, 80.0)
    shut = found.jobs[0].valves.query("action == 'shut'")["valve_id"]
    assert set(shut) <= set(form.loc[form["record"] == "valve", "place_id"])
    page, sheet = write_jobs(found, tmp_path / "jobs")
    assert "Upper row" in page.read_text(encoding="utf-8")
    assert len(pd.read_csv(sheet)) == len(form)


def test_pieces_are_told_from_their_western_end_though_walked_back(tmp_path: Path) -> None:
    legs = jobs_folder(tmp_path, events=["E-Z-1"]).jobs[0].legs
    assert (legs["from_m"] <= legs["to_m"]).all()


def test_every_id_that_is_no_job_is_named_at_once(tmp_path: Path) -> None:
    with pytest.raises(InputError) as refused:
        jobs_folder(tmp_path, events=["E-M1-0", "Q"])
    assert len(refused.value.findings) == 2
    assert "E-M1-1" in refused.value.findings[0].sentence()


def test_a_share_of_a_pipe_is_measured_from_the_end_of_the_whole_pipe(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Pipe B is parted by V1, 10 m from its western end: of what lies beyond, 20 to 40 m is 30 to
    50 m of the pipe, and a piece that begins at the joint begins there."""
    opened, balance, events, location = found_in(tmp_path)
    beyond = opened.network.pipes["layer_pipe_id"] == "B"
    far = opened.network.pipes.index[beyond][-1]
    parts = location.likelihood.assign(
        stretch_id=location.likelihood["stretch_id"].where(
            location.likelihood["pipe_id"] != far, "B in Z"
        )
    )
    own = location.stretches["stretch_id"] == "B"
    stretches = location.stretches.assign(
        stretch_id=location.stretches["stretch_id"].where(~own, "B in Z"),
        from_m=location.stretches["from_m"].where(~own, 20.0),
        to_m=location.stretches["to_m"].where(~own, 40.0),
        length_m=location.stretches["length_m"].where(~own, 90.0),
    )
    given = (opened, balance, events, replace(location, likelihood=parts, stretches=stretches))
    monkeypatch.setattr(pipeline, "locate_folder", lambda _, **__: given)
    job = jobs_folder(tmp_path, events=["E-Z-1"]).jobs[0]
    leg = job.legs.set_index("stretch_id").loc["B in Z"]
    assert (leg["from_m"], leg["to_m"]) == pytest.approx((30.0, 50.0))
    form = job.form[job.form["place_id"] == "B"].iloc[0]
    assert (form["from_m"], form["to_m"]) == pytest.approx((30.0, 50.0))
