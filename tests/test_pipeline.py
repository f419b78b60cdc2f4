"""The stages in order, on the small folder: what a stage gives the next, and what stops them."""

from __future__ import annotations

from pathlib import Path

import pytest

import district
from district.errors import InputError, StageError
from district.fieldwork import step_test_folder
from district.pipeline import balance_folder, check_folder, report_folder
from tests.bad_inputs.small_folder import make_folder

VERBS_IN = ("district.pipeline", "district.surveying", "district.fieldwork", "district.errors")
"""Where the public verbs stand."""


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_folder(tmp_path_factory.mktemp("pipeline") / "small")


def test_findings_of_layers_and_readings_come_in_one_pass(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "broken")
    (folder / "zones.geojson").unlink()
    (folder / "readings" / "zones.csv").write_text("")
    sources = {f.source for f in check_folder(folder) if f.severity == "error"}
    assert {"zones", "readings/zones.csv"} <= sources
    with pytest.raises(InputError):
        balance_folder(folder)


def test_the_report_holds_what_the_pages_need(small: Path) -> None:
    report = report_folder(small)
    assert set(report.layers.pipes["cell_id"]) >= {"A", "B"}
    assert list(report.balance.zones["cell_id"]) == ["A", "B"]
    assert set(report.layers.repairs["what"]) == {"split_at_device"}
    assert set(report.location.likelihood["pipe_id"]) == set(report.layers.pipes["pipe_id"])
    assert report.layers.meters.set_index("meter_id").loc["MB", "upstream_cell_id"] == "A"


def test_a_step_test_is_planned_for_a_zone_or_refused(small: Path) -> None:
    with pytest.raises(InputError, match="--zone"):
        step_test_folder(small, zone="nowhere")
    with pytest.raises(StageError, match="no open valve"):
        step_test_folder(small, zone="B")
    found = step_test_folder(small, zone="upper", steps_count=2)
    assert found.cell_id == "A"
    assert (found.plan.plan["action"] == "step").sum() == 1
    assert found.plan.sections["section_id"].iloc[-1] == "0"
    assert found.rests_on
    assert found.results.empty


def test_public_verbs_are_those_of_the_pipeline() -> None:
    for name in district.__all__:
        assert getattr(district, name).__module__ in VERBS_IN
