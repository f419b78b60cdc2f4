from __future__ import annotations

import pytest

from district.render import text


def test_escape_leaves_no_markup_braces_or_backticks():
    escaped = str(text.escape("<b a='1'>\"&{{x}}{%y%}`${z}"))
    assert not set(escaped) & set("<>'\"{}`$")
    assert text.escape(None) == ""


@pytest.mark.parametrize(
    ("given", "shown"),
    [
        ("moved it (47 %)", "moved it (47\u00a0%)"),
        ("0.4 L/s, 12 m³/day, 3 m/s", "0.4\u00a0L/s, 12\u00a0m³/day, 3\u00a0m/s"),
        ("4 mains, 7 meters, 2 loggers", "4 mains, 7 meters, 2 loggers"),
        (7, 7),
    ],
)
def test_a_figure_never_parts_from_its_unit(given, shown):
    assert text.bound(given) == shown


def test_markup_is_bound_but_once():
    made = text.escape("<i>47 %")
    assert made == "&lt;i&gt;47\u00a0%"
    assert text.bound(made) is made
