from __future__ import annotations

import re

import geopandas as gpd
from shapely.geometry import LineString

from district.render import palette
from district.render.features import feature
from district.render.map_frame import begun, clickable, ended, line_style

LINE = LineString([(13.0, 51.0), (13.1, 51.1)])


def line(role: str, grade: int):
    return line_style(
        {"role": role, "grade": grade}, palette.BREAKS, instead={"risk": palette.WALK}
    )


def page(count: int) -> str:
    drawn = begun(title="T", head="<h1>T</h1>", foot="F", scale=palette.BREAKS, parts=[("", ["L"])])
    found = [feature({"geometry": LINE}, {"role": "line", "grade": n % 3}) for n in range(count)]

    def style(one):
        return line_style(one["properties"], palette.BREAKS, instead={})

    clickable("Lines", found, show=True, style=style).add_to(drawn)
    within = [gpd.GeoDataFrame(geometry=[LINE], crs=4326)]
    return ended(drawn, legend="<i>legend</i>", within=within)


def test_each_style_stands_once_however_many_lines_there_are():
    styles = re.findall(r"districtLook\((\[\{.*?\}\])\)", page(30))
    assert len(styles) == 1
    assert styles[0].count('"weight"') == 3
    assert "case " not in re.sub(r"<script>.*?leaflet.*?</script>", "", page(30), count=1)[-8000:]


def test_parts_corners_and_legend_stand_on_the_page():
    told = page(1)
    assert 'const districtParts = [["", ["L"]]];' in told
    assert "[[51.0, 13.0], [51.1, 13.1]]" in told
    assert "<i>legend</i>" in told


def test_lines_by_role():
    assert line("line", 5)["color"] == palette.BREAKS.colours[5]
    assert line("risk", 2)["color"] == palette.WALK.colours[2]
    assert line("risk", -1)["dashArray"]
    assert line("line", -1)["color"] == palette.QUIET
    assert line("touch", 0)["interactive"]
    assert line("casing", 1)["weight"] > line("gap", 1)["weight"] > line("line", 1)["weight"]
    assert line("label", 0) == {}
