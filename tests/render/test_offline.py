from __future__ import annotations

import re

import folium

from district.render import offline


def drawn(**options):
    return offline.blank_map(title="T", style="i{}", script="let own;", **options)


def test_images_of_the_style_are_inside_the_page():
    page = offline.page_of(drawn())
    targets = re.findall(r"url\(([^)]*)\)", page)
    assert sum("data:image/png;base64," in t for t in targets) >= 3
    assert all(t.startswith(('"data:', "#")) for t in targets)


def test_element_ids_are_numbered():
    first, second = drawn(), drawn()
    assert offline.page_of(first) == offline.page_of(second)


def test_other_maps_keep_their_own_links():
    before = list(folium.Map.default_js)
    drawn()
    assert folium.Map.default_js == before
    assert "leaflet.js" in folium.Map().get_root().render()


def test_nothing_is_linked_unless_a_base_map_is_asked_for():
    page = offline.page_of(drawn())
    assert not re.search(r"<(?:script|img|iframe)[^>]+src=|<link", page)
    assert "img-src data:;" in page
    assert "tile.openstreetmap" not in page
    online = offline.page_of(drawn(online_base=True))
    assert "img-src data: https:;" in online
    assert "tile.openstreetmap" in online


def test_markup_is_not_read_as_a_template():
    chart = drawn()
    offline.add_markup(chart.get_root().html, "<p>{{ 7 * 7 }}</p>", "note")
    assert "<p>{{ 7 * 7 }}</p>" in offline.page_of(chart)
