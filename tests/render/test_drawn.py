from __future__ import annotations

import base64
from xml.etree import ElementTree

import matplotlib as mpl
from matplotlib.figure import Figure

from district.render.drawn import STYLE, as_image, as_svg


def line() -> str:
    with mpl.rc_context(STYLE):
        figure = Figure(figsize=(2, 1))
        figure.add_subplot().plot([0, 1], [1, 3])
        return as_svg(figure)


def test_a_figure_is_one_svg_element_the_same_twice_without_a_date():
    drawn = line()
    assert drawn == line()
    assert drawn.startswith("<svg")
    assert "dc:date" not in drawn
    ElementTree.fromstring(drawn)


def test_image_holds_the_chart():
    head, _, body = as_image("<svg/>").partition(",")
    assert head == "data:image/svg+xml;base64"
    assert base64.b64decode(body).endswith(b"<svg/>")
