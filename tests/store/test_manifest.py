from __future__ import annotations

import json
from pathlib import Path

import pytest

from district.errors import Finding
from district.store import KeptFile, Manifest, read_manifest, write_manifest

FINDING = Finding("warning", "a.csv", "row 2", got='"é"', expected="b", remedy="C", count=7)
MANIFEST = Manifest("mark", (KeptFile("a.csv", "d", "m", "p", 3),), ("00-x",), (FINDING,))


def test_what_is_written_comes_back(tmp_path: Path) -> None:
    write_manifest(tmp_path / "place", MANIFEST)
    again = read_manifest(tmp_path / "place")
    assert again == MANIFEST
    assert again.findings[0].count == 7


@pytest.mark.parametrize("text", [None, "", "[]", "{}", '{"fingerprint": 1, "files": [{}]}', "\0"])
def test_what_is_no_manifest_is_none(tmp_path: Path, text: str | None) -> None:
    if text is not None:
        (tmp_path / "manifest.json").write_text(text)
    assert read_manifest(tmp_path) is None


def test_a_finding_of_another_version_is_no_manifest(tmp_path: Path) -> None:
    write_manifest(tmp_path, MANIFEST)
    said = json.loads((tmp_path / "manifest.json").read_text())
    said["findings"][0]["colour"] = "red"
    (tmp_path / "manifest.json").write_text(json.dumps(said))
    assert read_manifest(tmp_path) is None
