from __future__ import annotations

import pytest

from district.errors import OutputError
from district.render import pages as module
from district.render import write_pages
from district.schema import outputs


def test_everything_is_written_and_told_in_order(report, tmp_path):
    out = tmp_path / "maps"
    written = write_pages(report, out)
    tables = [f"tables/{t.name}.csv" for t in outputs.OUTPUTS]
    assert [str(p.relative_to(out)) for p in written] == [
        "index.html",
        "map.html",
        "results.gpkg",
        "results.xlsx",
        *tables,
        "tables/device_quality.csv",
        "tables/defaults.csv",
    ]
    assert all(p.is_file() for p in written)
    assert sorted(p for p in out.rglob("*") if p.is_file()) == sorted(written)


def test_same_bytes_into_another_place_and_strangers_stay(report, pages, tmp_path):
    out = tmp_path / "elsewhere"
    out.mkdir()
    (out / "notes.txt").write_text("mine")
    for path in write_pages(report, out):
        assert path.read_bytes() == (pages / path.relative_to(out)).read_bytes(), path.name
    assert (out / "notes.txt").read_text() == "mine"


def test_nothing_reaches_the_folder_when_one_page_fails(report, tmp_path, monkeypatch):
    def broken(*_):
        raise OSError("disk full")

    monkeypatch.setattr(module, "write_workbook", broken)
    out = tmp_path / "maps"
    with pytest.raises(OutputError, match="disk full"):
        write_pages(report, out)
    assert list(tmp_path.iterdir()) == []


def test_inputs_are_left_as_they_were(report, tmp_path):
    before = (
        report.balance.zones.copy(),
        report.balance.annual.copy(),
        report.location.likelihood.copy(),
        report.layers.connections.copy(),
    )
    write_pages(report, tmp_path / "maps")
    after = (
        report.balance.zones,
        report.balance.annual,
        report.location.likelihood,
        report.layers.connections,
    )
    for old, new in zip(before, after, strict=True):
        assert old.equals(new)
