"""A folder's walk and its files, what is to be searched typed by hand."""

from __future__ import annotations

from pathlib import Path

import pytest

from district import pipeline
from district.surveying import survey_folder, write_survey
from tests.survey.scenes import ladder, located


def test_the_walk_of_a_folder_is_written_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    told = {"B": (0.6, None, None), "G": (0.3, 20.0, 80.0)}
    given = located(ladder(), told, tmp_path)
    monkeypatch.setattr(pipeline, "locate_folder", lambda _, **__: given)
    said: list[str] = []
    found = survey_folder(tmp_path, shift_h=2.0, say=said.append)
    assert said == ["laying the walk"]
    assert found.walk.legs["stretch_id"].tolist() == ["B", "G"]
    assert "shifts of 2 h" in found.walk.basis.assumptions[0]
    paths = write_survey(found, tmp_path / "out")
    assert [p.name for p in paths] == [
        "survey.gpkg", "survey.geojson", "survey_track.gpx", "survey_points.gpx",
    ]  # fmt: skip
    assert all(p.stat().st_size > 0 for p in paths)
