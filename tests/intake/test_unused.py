from __future__ import annotations

from pathlib import Path

import pandas as pd

from district.intake.draft import draft
from district.intake.group_readings import reading_kinds
from district.intake.guess_readings import Layout
from district.intake.proposal import ColumnGuess
from district.intake.propose import propose
from district.intake.survey import TableSample
from district.intake.unused import unused
from tests.bad_inputs.small_folder import make_folder

MATERIAL = ColumnGuess("material", "MAT", "unsure", "")


def test_what_no_guess_takes_in_its_order_without_what_programs_write() -> None:
    headings = ["OBJECTID", "Remarks", "MAT", "Shape_Length", "Crew", "Remarks", "status"]
    assert unused(headings, [MATERIAL], own=("status",)) == ("Remarks", "Crew")


def test_a_layer_a_record_and_readings_name_them_in_the_draft(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    (folder / "district.toml").unlink()
    layer = (folder / "pipes.geojson").read_text()
    (folder / "pipes.geojson").write_text(
        layer.replace('"properties": {', '"properties": {"Zz crew": "a\\nb", ')
    )
    works = (folder / "works.csv").read_text().splitlines()
    (folder / "works.csv").write_text(
        "\n".join([f"{works[0]},Zz cost", *(f"{w},1" for w in works[1:])])
    )
    zones = (folder / "readings/zones.csv").read_text().splitlines()
    (folder / "readings/zones.csv").write_text(
        "\n".join([f"{zones[0]},Zz flag", *(f"{z},ok" for z in zones[1:])])
    )
    found = propose(folder)
    said = {g.file: g.unused for g in (*found.layers, *found.records) if g.unused}
    assert said == {"pipes.geojson": ("Zz crew",), "works.csv": ("Zz cost",)}
    assert {k.pattern: k.unused for k in found.readings if k.unused} == {
        "readings/zones.csv": ("Zz flag",)
    }
    lines = draft(found).text.splitlines()
    assert [x for x in lines if x.startswith("# Not used")] == [
        "# Not used: Zz crew",
        "# Not used: Zz cost",
        "# Not used: Zz flag",
    ]


def test_a_plain_folder_uses_every_column(tmp_path: Path) -> None:
    found = propose(make_folder(tmp_path / "small"))
    assert not any(g.unused for g in (*found.layers, *found.records, *found.readings))


def test_a_meter_of_one_file_alone_is_used_though_the_first_file_lacks_it(tmp_path: Path) -> None:
    members = []
    for name, meter in (("w1.csv", "M1"), ("w2.csv", "M2")):
        (tmp_path / name).write_text("")
        columns = tuple(ColumnGuess(c, c, "sure", "") for c in ("time", meter))
        frame = pd.DataFrame(columns=["time", meter, "Battery"])
        members.append(
            (TableSample(tmp_path / name, name, frame), Layout("wide", "sure", "", columns))
        )
    (kind,) = reading_kinds(tmp_path, members)
    assert (kind.files, kind.unused) == (("w1.csv", "w2.csv"), ("Battery",))
