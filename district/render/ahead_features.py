"""GeoJSON features of what would be seen of the next leak, and of devices to add."""

from __future__ import annotations

from typing import Any

from shapely import get_parts
from shapely.geometry import MultiLineString, mapping

from district.render import ahead, palette, popups
from district.render.features import Feature, degrees, point_feature, zone_names
from district.results import DistrictReport
from district.words import FITTING_CAUTION, figure, percent


def reach_features(report: DistrictReport, scale: palette.Scale, layer: str) -> list[Feature]:
    """The pipes by class of a column of DETECTABILITY, one feature a class, so that a large map
    does not carry every pipe twice over.

    `layer` names the class of style; parts without a figure are of grade -1.
    """
    table = report.location.detectability
    if table.empty:
        return []
    figures = table.drop_duplicates("pipe_id").set_index("pipe_id")[scale.name]
    pipes = degrees(report.layers.pipes[report.layers.pipes["pipe_id"].isin(figures.index)])
    grades = pipes["pipe_id"].map(figures).map(scale.place)
    return [
        {
            "type": "Feature",
            "geometry": mapping(MultiLineString(list(get_parts(pipes.geometry[grades == grade])))),
            "properties": {"role": layer, "grade": int(grade), "tip": "", "popup": ""},
        }
        for grade in sorted(set(grades))
    ]


def device_features(report: DistrictReport) -> list[Feature]:
    """Where the next loggers and meters would help most, in the middle of their pipes."""
    names = zone_names(report)
    placed = degrees(ahead.placed_devices(report))
    return [_device(row, names) for _, row in placed.iterrows()]


def _device(row: Any, names: dict[str, str]) -> Feature:
    title = f"Next {row['device']}"
    pairs = [
        ("Order", figure(row["rank"], name="rank_count")),
        ("Where", row["where"]),
        ("Zone", names.get(str(row["cell_id"]), str(row["cell_id"]))),
        ("For a leak of", figure(row["leak_l_s"], name="leak_l_s")),
        ("Walk without it", popups.estimate(row, "walk_before_m")),
        ("Walk with it", popups.estimate(row, "walk_after_m")),
        ("Saves", percent(float(row["gain_share"]), decimals=0)),
        ("Before fitting", FITTING_CAUTION),
    ]
    return point_feature(row, title, row["where"], f"next_{row['kind']}", popups.card(title, pairs))
