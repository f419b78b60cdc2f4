"""The cut-out of the map on a field sheet."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

from district.render.sheet_map import map_words, sheet_map
from tests.render.sheets import SCRIPT, job, map_of_job

LAYERS = map_of_job()


def test_it_is_one_drawing_with_valves_pieces_scale_and_north() -> None:
    drawn = sheet_map(job(), LAYERS)
    ET.fromstring(drawn)
    said = re.findall(r">([^<>]+)</text>", drawn)
    assert {"V1", "V2", "N"} <= set(said)
    assert any(re.fullmatch(r"[125]0* m", s) for s in said)
    assert "1: B" in said
    assert sheet_map(job(), LAYERS) == drawn


def test_it_is_black_white_and_grey() -> None:
    colours = set(re.findall(r"#[0-9a-f]{6}", sheet_map(job(indoors=True), LAYERS)))
    assert all(c[1:3] == c[3:5] == c[5:7] for c in colours), colours


def test_labels_do_not_lie_on_each_other() -> None:
    """Twenty pieces on one pipe: those without room go without a label."""
    said = re.findall(r">(\d+): B</text>", sheet_map(job(20), LAYERS))
    assert 1 <= len(said) < 14


def test_the_words_for_who_cannot_see_it_name_all_and_markup_is_text() -> None:
    assert map_words(job()) == (
        "Map about the job in Upper row: pieces to search on B; valves of the plan V1, V2, V3."
    )
    assert "no pipe" in map_words(job(0))
    assert "<script" not in sheet_map(job(1, name=SCRIPT), LAYERS)
