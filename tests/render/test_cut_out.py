"""A cut-out of the map: the same from the same, whatever little there is to show."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

import geopandas as gpd
import numpy as np
from shapely.geometry import LineString, Point

from district.render.cut_out import cut_out
from tests.render.sheets import map_of_job

LAYERS = map_of_job()


def lines(*labels: str) -> gpd.GeoDataFrame:
    return gpd.GeoDataFrame(
        {"label": list(labels)},
        geometry=[LineString([(100, 20.0 * n), (200, 20.0 * n)]) for n, _ in enumerate(labels)],
    )


def labels_of(svg: str) -> dict[str, tuple[float, float]]:
    """Text of the drawing -> where it stands."""
    found = {}
    for text in ET.fromstring(svg).iter("{http://www.w3.org/2000/svg}text"):
        at = re.search(r"translate\(([-0-9.]+) ([-0-9.]+)\)", text.get("transform", ""))
        if at and text.text:
            found[text.text] = (float(at[1]), float(at[2]))
        elif text.text:
            found[text.text] = (float(text.get("x", "0")), float(text.get("y", "0")))
    return found


def test_nothing_to_show_is_still_a_drawing() -> None:
    ET.fromstring(cut_out(LAYERS, lines=lines()))


def test_labels_keep_clear_of_each_other() -> None:
    named = [f"{n}: piece" for n in range(8)]
    drawn = labels_of(cut_out(LAYERS, lines=lines(*named), boxed=["V1", "V2"]))
    at = np.array([drawn[name] for name in named if name in drawn])
    assert len(at) >= 4
    apart = np.abs(at[:, None] - at[None, :])
    near = (apart[..., 0] < 30) & (apart[..., 1] < 9)
    assert near.sum() == len(at)  # each with itself


def test_stars_and_dots_are_drawn_and_a_line_without_a_label_is_too() -> None:
    bare = cut_out(LAYERS, lines=lines(""))
    more = cut_out(
        LAYERS, lines=lines(""), dots=gpd.GeoSeries([Point(120, 0)]),
        stars=gpd.GeoSeries([Point(150, 5)]),
    )  # fmt: skip
    assert len(more) > len(bare)
    assert cut_out(LAYERS, lines=lines("")) == bare
