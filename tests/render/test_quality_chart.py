from __future__ import annotations

from itertools import pairwise
from xml.etree import ElementTree

import matplotlib as mpl
import pandas as pd
import pytest

from district.render import palette
from district.render.quality_chart import (
    MOST,
    device_shares,
    left_out,
    quality_chart,
    quality_words,
)

NAMES = ("expected", "missing", "gap", "spike", "stuck", "reset", "negative", "impossible")


def devices(*rows: tuple[object, ...]) -> pd.DataFrame:
    """Rows of an id and its counts, in the order of the schema."""
    return pd.DataFrame(rows, columns=["device_id", *(f"{n}_count" for n in NAMES)])


def many(count: int) -> pd.DataFrame:
    """Device i of so many lost i of 1000 readings."""
    return devices(*[(f"M{i}", 1000, i, 0, 0, 0, 0, 0, 0) for i in range(count)])


def test_the_parts_of_a_device_sum_to_all_it_should_have():
    shares = device_shares(devices(("M", 200, 20, 10, 3, 3, 2, 1, 1)))
    row = shares.iloc[0]
    assert row[["used", "bridged", "missing", "set_aside"]].tolist() == pytest.approx(
        [0.8, 0.05, 0.1, 0.05]
    )
    assert row["lost"] == pytest.approx(0.15)


def test_more_set_aside_than_expected_still_sums_to_one():
    row = device_shares(devices(("M", 20, 0, 10, 10, 0, 0, 20, 0))).iloc[0]
    assert row["used"] == 0
    assert row[["bridged", "missing", "set_aside"]].sum() == pytest.approx(1)


def test_worst_first_and_devices_of_few_readings_or_unknown_left_out():
    table = devices(
        ("B", 100, 1, 0, 0, 0, 0, 0, 0),
        ("A", 100, 1, 0, 0, 0, 0, 0, 0),
        ("C", 100, 0, 9, 0, 0, 0, 0, 0),
        ("D", 100, 0, 0, 50, 0, 0, 0, 0),
        ("E", 19, 9, 0, 0, 0, 0, 0, 0),
        ("F", None, None, None, None, None, None, None, 0),
    )
    assert device_shares(table)["device_id"].tolist() == ["D", "A", "B", "C"]


def test_the_chart_names_parts_devices_and_what_each_lost():
    chart = quality_chart(device_shares(many(13)))
    texts = [e.text for e in ElementTree.fromstring(chart).iter() if e.tag.endswith("}text")]
    for words in ("used", "bridged, for volumes only", "missing", "set aside", "M12", "1.2 %"):
        assert words in texts
    assert texts.index("M12") < texts.index("M3")


def test_only_the_worst_are_drawn_and_the_rest_counted():
    shares = device_shares(many(MOST + 12))
    chart = quality_chart(shares)
    assert ">M41<" in chart
    assert ">M12<" in chart
    assert ">M11<" not in chart
    assert left_out(shares) == "And 12 more devices that lost at most 1.1 % each"
    assert left_out(device_shares(many(MOST))) == "And 1 more device that lost nothing"
    assert ">M0<" not in quality_chart(device_shares(many(MOST)))


def test_a_small_loss_is_never_called_none():
    assert ">0.1 %<" in quality_chart(device_shares(devices(("M", 99999, 1, 0, 0, 0, 0, 0, 0))))


def test_names_come_out_as_text_whatever_they_hold():
    odd = ["<script>", "$x^2$", "a\x00b", "🚰", "x" * 90, "a\nb", "=1+1", "&amp;"]
    table = devices(*[(name, 100, 5, 0, 0, 0, 0, 0, 0) for name in odd])
    chart = quality_chart(device_shares(table))
    texts = {e.text for e in ElementTree.fromstring(chart).iter() if e.tag.endswith("}text")}
    assert {"<script>", "$x^2$", "a�b", "🚰", "=1+1", "&amp;"} <= texts
    assert f"{'x' * 13}…" in texts


def test_same_bytes_style_and_input_left_alone():
    table = many(5)
    before = table.copy(), mpl.rcParams["hatch.linewidth"]
    assert quality_chart(device_shares(table)) == quality_chart(device_shares(table))
    pd.testing.assert_frame_equal(table, before[0])
    assert mpl.rcParams["hatch.linewidth"] == before[1]


def test_none_to_draw():
    sound = device_shares(devices(*[(f"M{i}", 99, 0, 0, 0, 0, 0, 0, 0) for i in range(3)]))
    assert quality_chart(sound) == ""
    assert quality_words(sound) == "Readings of 3 devices: none missing or set aside."
    shares = device_shares(devices())
    assert quality_chart(shares) == ""
    assert left_out(shares) == ""
    assert quality_words(shares) == "Readings of 0 devices: none missing or set aside."


def test_words_for_those_who_cannot_see_it():
    table = devices(("A", 100, 25, 0, 1, 0, 0, 0, 0), ("B", 100, 0, 3, 0, 0, 0, 0, 0))
    assert quality_words(device_shares(table)) == (
        "Readings of 2 devices, of which 1 lost some. Worst: A 25 % missing, 1.0 % set aside. "
        "The table below has them all."
    )


def test_its_colours_differ_in_lightness_for_print_and_colour_blind_eyes():
    colours = (palette.ABSENT, palette.USED, palette.BRIDGED, palette.SET_ASIDE)
    light = [palette.lightness(c) for c in colours]
    assert all(a - b >= 15 for a, b in pairwise(light))
