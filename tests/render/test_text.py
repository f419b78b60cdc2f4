from __future__ import annotations

from district.render import text


def test_escape_leaves_no_markup_braces_or_backticks():
    escaped = str(text.escape("<b a='1'>\"&{{x}}{%y%}`${z}"))
    assert not set(escaped) & set("<>'\"{}`$")
    assert text.escape(None) == ""
