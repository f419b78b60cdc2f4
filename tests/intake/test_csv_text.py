from __future__ import annotations

from pathlib import Path

import pytest

from district.intake.csv_text import (
    cells,
    encoding_of,
    first_lines,
    separator_of,
)
from district.intake.unreadable import UnreadableError


@pytest.mark.parametrize(
    ("content", "encoding"),
    [
        (b"time,value", "utf-8-sig"),
        ("Zähler".encode(), "utf-8-sig"),
        ("Zähler".encode("cp1252"), "cp1252"),
        ("Zähler;1".encode("utf-16"), "utf-16"),
        ("time;value".encode("utf-16-le"), "utf-16-le"),
        ("time;value".encode("utf-16-be"), "utf-16-be"),
        (b"a" * (1 << 20) + "ä".encode(), "utf-8-sig"),
        (b"a" * ((1 << 20) - 1) + "ä".encode(), "utf-8-sig"),
        (b"abc" + b"\xc3", "cp1252"),
    ],
)
def test_encodings(tmp_path: Path, content: bytes, encoding: str) -> None:
    path = tmp_path / "a.csv"
    path.write_bytes(content)
    assert encoding_of(path) == encoding


def test_a_sample_may_end_within_a_sign(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_bytes(b"a" * ((16 << 20) - 1) + "ä".encode() + "ä".encode("cp1252"))
    assert encoding_of(path, whole=False) == "utf-8-sig"
    assert encoding_of(path) == "cp1252"


def test_first_lines_only(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("a\n\nb\nc\n")
    assert first_lines(path, "utf-8", 3) == ["a", "", "b"]
    path.write_text("\n \n")
    with pytest.raises(UnreadableError, match="an empty file"):
        first_lines(path, "utf-8", 3)


def test_separators_and_cells() -> None:
    assert [separator_of(t) for t in ("a;b,c;d", "a\tb", "a")] == [";", "\t", ","]
    assert cells(['a; "b;\nc" ;', ""], ";") == [["a", "b;\nc", None], []]
