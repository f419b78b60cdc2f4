from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from district.errors import Finding
from district.store import (
    KeptFile,
    KeptPart,
    Manifest,
    kept_months,
    month_key,
    parts_of,
    read_manifest,
    write_manifest,
)

FINDING = Finding("warning", "a.csv", "row 2", got='"é"', expected="b", remedy="C", count=7)
PART = KeptPart(0, "2025-03", "00-x", 1_740_700_000_000_000, 1_741_000_000_000_000)
MANIFEST = Manifest(
    "mark",
    (KeptFile("a.csv", "d", "m", "p", 3),),
    (PART,),
    (FINDING,),
    "quality",
    "presence",
    {"00-seldom": (PART,)},
    {"a.csv": ("12 34", "d")},
)


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


def test_a_month_hangs_on_the_parts_that_touch_it() -> None:
    # The part runs from 27 February to 3 March 2025 (GNU date).
    assert kept_months(MANIFEST) == ["2025-02", "2025-03"]
    assert parts_of(MANIFEST, "2025-02") == [PART]
    assert parts_of(MANIFEST, "2025-04") == []
    later = KeptPart(0, "2025-04", "00-y", PART.last_us + 1, 1_745_000_000_000_000)
    more = replace(MANIFEST, parts=(PART, later))
    assert month_key(more, "2025-02") == month_key(MANIFEST, "2025-02")
    assert month_key(more, "2025-03") != month_key(MANIFEST, "2025-03")
