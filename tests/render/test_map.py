from __future__ import annotations

import json
import re
from dataclasses import replace

import pytest

from district.errors import OutputError
from district.render.map import map_page, write_map


def test_same_bytes_from_the_same_report(report, tmp_path):
    first = write_map(report, tmp_path / "a.html").read_bytes()
    assert write_map(report, tmp_path / "b.html").read_bytes() == first


def test_no_link_that_loads_anything(report):
    page = map_page(report)
    outside = re.sub(r"<script>.*?</script>", "", page, flags=re.DOTALL)
    assert not re.search(r"""(?:src|href)\s*=\s*["']?(?:https?:)?//""", outside)
    assert "<link" not in outside
    assert not re.search(r"""url\(\s*["']?(?:https?:)?//""", outside)
    assert re.findall(r'href="([^"]*)"', outside) == ["index.html"]


def test_names_stay_text_in_page_and_script(report):
    page = map_page(report)
    assert "<script>alert(1)" not in page
    assert "{{ 7 * 7 }}" not in page
    assert r"M\u00fchlgasse" in page
    assert not re.search(r"M\\u00fchlgasse.{0,60} 49 ", page)
    assert page.count("<script>") == page.count("</script>") == 4
    title = re.findall(r"<title>(.*?)</title>", page)[0]
    assert title == "Lindental &amp; &lt;script&gt;alert(1)&lt;/script&gt;: leak map"


def test_layers_have_plain_names_and_some_begin_hidden(report):
    page = map_page(report)
    listed = re.search(r"overlays\s*:\s*\{(.*?)\}", page, re.DOTALL)[1]
    names = [json.loads(n) for n in re.findall(r'("[^"]+")\s*:', listed)]
    assert names == [
        "Zones by excess",
        "Stretches to walk first",
        "Pipes by leak probability",
        "Likeliest places",
        "Buildings and connections",
        "Open valves",
        "Shut or stuck valves",
        "Automatic shut-off valves",
        "Zone meters",
        "Loggers and sensors",
        "Sources and tanks",
        "Smallest leak shown",
        "Walk to the next leak",
        "Next logger or meter",
    ]
    assert len(re.findall(r"geo_json_\d+\.addTo\(", page)) == 9


def test_an_empty_layer_is_left_out(report):
    layers = replace(report.layers, sensors=report.layers.sensors.iloc[:0])
    assert "Loggers and sensors" not in map_page(replace(report, layers=layers))


def test_base_map_is_a_choice(report):
    assert "tile.openstreetmap" not in map_page(report)
    assert "tile.openstreetmap" in map_page(report, online_base=True)


def test_an_unwritable_place_is_told(report, tmp_path):
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(OutputError, match="Choose another place"):
        write_map(report, tmp_path / "file" / "map.html")
