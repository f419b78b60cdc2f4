from __future__ import annotations

from types import SimpleNamespace

import pytest

from district.cli import layout


def row(value: float, low: float, high: float) -> SimpleNamespace:
    return SimpleNamespace(x_l_s=value, x_l_s_low=low, x_l_s_high=high)


NAN = float("nan")


@pytest.mark.parametrize(
    ("given", "value", "limits"),
    [
        ((0.8412, 0.6088, 1.0744), "0.84", "0.61–1.07"),
        ((0.1, -0.3, 0.5), "0.1", "-0.3 to 0.5"),
        ((0.25, NAN, NAN), "0.250", ""),
        ((NAN, NAN, NAN), "-", ""),
    ],
)
def test_limits_stand_beside_or_beneath(
    given: tuple[float, float, float], value: str, limits: str
) -> None:
    beneath = f"{value}\n{limits}" if limits else value
    assert layout.span(row(*given), "x_l_s") == (value, limits)
    assert layout.estimate(row(*given), "x_l_s") == beneath


def test_a_path_stays_in_one_piece_to_be_copied(capsys: pytest.CaptureFixture[str]) -> None:
    path = "/srv/field-work/" + "quarter-of-a-year/" * 6 + "ledger.csv"
    layout.print_lines([f"Tables: {'word ' * 17}/srv/north-east/ledger.csv", f"Page: {path}"])
    lines = capsys.readouterr().out.splitlines()
    assert any("/srv/north-east/ledger.csv" in line for line in lines)
    assert path in lines


def test_sentences_are_as_wide_as_tables(capsys: pytest.CaptureFixture[str]) -> None:
    layout.print_lines(["A sentence.", "", "- " + "word " * 30])
    layout.print_lines(["", ""])
    first, second, third, last = capsys.readouterr().out.split("\n")[:4]
    assert first == "A sentence."
    assert second.startswith("- word")
    assert third.startswith("  word")
    assert max(len(second), len(third)) <= layout.WIDTH
    assert last == ""


def test_tables_are_as_wide_everywhere(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "40")
    table = layout.titled("A title", "Name", "Flow\nL/s")
    table.add_row("word " * 30, "1.25")
    layout.show(table, layout.or_none(layout.titled("Another", "Name")))
    printed = capsys.readouterr().out.splitlines()
    assert 40 < max(map(len, printed)) <= layout.WIDTH
    assert printed[-2].split() == ["none"]


def test_a_name_stands_as_it_is_and_nothing_is_a_dash() -> None:
    assert layout.named("[bold]Hall").plain == "[bold]Hall"
    assert layout.named(None).plain == "-"
    assert layout.named(" ").plain == "-"
