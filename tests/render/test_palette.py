from __future__ import annotations

from itertools import pairwise

import pytest

from district.render import palette


@pytest.mark.parametrize(
    "scale",
    [
        palette.PROBABILITY,
        palette.EXCESS,
        palette.SMALLEST,
        palette.WALK,
        palette.BREAKS,
        palette.risk_classes(250.0),
    ],
    ids=lambda s: s.name,
)
def test_each_class_is_darker_and_no_thinner_than_the_one_before(scale):
    light = [palette.lightness(c) for c in scale.colours]
    assert all(a - b >= 6 for a, b in pairwise(light))
    assert list(scale.widths) == sorted(scale.widths)
    assert len(scale.colours) == len(scale.widths) == len(scale.labels) == len(scale.breaks) + 1


def test_the_faintest_pipe_stands_off_the_paper():
    for scale in (palette.PROBABILITY, palette.SMALLEST, palette.WALK):
        faint = palette.lightness(scale.colours[0])
        assert palette.lightness(palette.PAPER) - faint >= 15


def test_lightness_of_mid_grey():
    # sRGB 119 is the grey closest to L* 50 (CIE 15 definition of L*).
    assert palette.lightness("#777777") == pytest.approx(50.0, abs=0.2)


def test_place_counts_a_break_into_the_upper_class():
    scale = palette.PROBABILITY
    assert [scale.place(v) for v in (None, float("nan"), 0.0, 0.1, 1.0)] == [-1, -1, 0, 4, 5]


@pytest.mark.parametrize("top", [1e-9, 0.02, 1.0, 2.99, 3.0, 4.7e6])
def test_classes_of_risk_end_at_or_below_the_top(top):
    scale = palette.risk_classes(top)
    assert scale.breaks[-1] <= top * (1 + 1e-12) < scale.breaks[-1] * 3.4
    assert all(3 <= round(b / a * 10) / 10 <= 3.4 for a, b in pairwise(scale.breaks))
    assert scale.place(top) == 5
