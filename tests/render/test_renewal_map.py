from __future__ import annotations

import json
import re

import pytest

from district.errors import OutputError
from district.render.renewal_map import renewal_map_page, write_renewal_map
from district.schema.renewal_tables import RENEWAL_CAUTION
from tests.render.made_renewal import bare, made


def layers(page: str) -> list[str]:
    listed = re.search(r"overlays\s*:\s*\{(.*?)\}", page, re.DOTALL)[1]
    return [json.loads(n) for n in re.findall(r'("[^"]+")\s*:', listed)]


def test_same_bytes_and_nothing_loads(tmp_path):
    first = write_renewal_map(made(), tmp_path / "a.html").read_bytes()
    assert write_renewal_map(made(), tmp_path / "b.html").read_bytes() == first
    outside = re.sub(r"<script>.*?</script>", "", first.decode(), flags=re.DOTALL)
    assert re.findall(r'href="([^"]*)"', outside) == ["renewal.html"]
    assert "<link" not in outside
    assert RENEWAL_CAUTION in outside


def test_names_stay_text_in_page_and_script():
    page = renewal_map_page(made())
    assert "<script>alert(1)" not in page
    assert "{{ 7 * 7 }}" not in page
    assert not re.search(r"M\\u00fchlgasse.{0,60} 49 ", page)
    assert page.count("<script>") == page.count("</script>") == 4


def test_the_list_lies_with_rates_and_risk_begins_hidden():
    page = renewal_map_page(made())
    assert layers(page) == ["The list", "Breaks a year by 100 km", "Cost of breaks by metre"]
    assert len(re.findall(r"geo_json_\d+\.addTo\(", page)) == 2
    assert layers(renewal_map_page(bare())) == layers(page)[1:]


def test_an_unwritable_place_is_told(tmp_path):
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(OutputError, match="Choose another place"):
        write_renewal_map(made(), tmp_path / "file" / "map.html")
