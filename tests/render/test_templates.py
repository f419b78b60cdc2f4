from __future__ import annotations

import jinja2
import pytest

from district.render.templates import environment, finished, limits, row_dicts, sentence, styles


def test_text_is_escaped_and_what_is_not_given_is_an_error():
    shown = environment().from_string("{{ name }} {{ flow }}").render(name="<b>", flow="3 L/s")
    assert shown == "&lt;b&gt; 3\u00a0L/s"
    with pytest.raises(jinja2.UndefinedError):
        environment().from_string("{{ name }}").render()


def test_a_figure_has_its_limits_beneath():
    row = {"size_l_s": 1.1, "size_l_s_low": 0.98, "size_l_s_high": 1.22}
    assert limits(row, "size_l_s") == "<b>1.10</b> <small>0.98 to 1.22</small>"
    assert limits({"size_l_s": 1.1}, "size_l_s") == "<b>1.10</b>"
    assert limits({}, "size_l_s") == "-"


@pytest.mark.parametrize(
    ("text", "said"),
    [("rose", "Rose."), ("Look!", "Look!"), ("  a: b ", "A: b."), ("", ""), (float("nan"), "")],
)
def test_sentences_begin_and_end(text, said):
    assert sentence(text) == said


def test_lines_end_without_space_and_styles_are_joined():
    assert finished("a  \n\nb ") == "a\n\nb\n"
    assert "ul.alarms" in styles("report.css", "morning.css")
    assert "<" not in styles("report.css")


def test_rows_go_by_column(report):
    rows = row_dicts(report.balance.zones)
    assert rows[0]["cell_id"] == "Z1"
    assert len(rows) == 3
