"""The walk of a crew over what a folder's readings say to search, and its files.

Above the pipeline, which finds what to search; the walk itself is `district.survey`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from district import pipeline, render, survey
from district.opening import Opened, Say, silent
from district.results import Location


@dataclass(frozen=True, eq=False)
class Surveyed:
    """A folder, where its leaks likely are, and the walk over that; `last` day of its data."""

    opened: Opened
    location: Location
    walk: survey.SurveyWalk
    last: date | None


def survey_folder(
    folder: Path,
    *,
    zones: Sequence[str] = (),
    depot_deg: Sequence[float] = (),
    shift_h: float | None = None,
    say: Say = silent,
) -> Surveyed:
    """The walk over the stretches to search, of some zones (by id or name) or of all.

    `depot_deg` longitude and latitude of where the walk begins and ends, `shift_h` hours of a
    shift; both as in the settings if not told. Raises `InputError`, `StageError`.
    """
    opened, found, _, location = pipeline.locate_folder(folder, say=say)
    say("laying the walk")
    walk = survey.survey_walk(
        opened.network,
        location.stretches,
        location.likelihood,
        settings=opened.settings,
        streets=opened.inputs.streets,
        zones=zones,
        depot_deg=depot_deg,
        shift_h=shift_h,
    )
    return Surveyed(opened, location, walk, found.basis.last)


def write_survey(found: Surveyed, out: Path) -> tuple[Path, ...]:
    """Write survey.gpkg, survey.geojson, survey_track.gpx and survey_points.gpx into `out`. Raises
    `OutputError`."""
    walk = found.walk
    return render.write_walk(
        legs=walk.legs,
        paths=walk.paths,
        points=walk.points,
        set_ups=walk.set_ups,
        folder=out,
        last=found.last,
    )
