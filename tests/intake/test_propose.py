from __future__ import annotations

from pathlib import Path

import pytest

from district.errors import InputError
from district.intake.propose import propose
from tests.bad_inputs.small_folder import make_folder


def test_a_plain_folder_is_understood_whole(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    (folder / "district.toml").unlink()
    (folder / "truth.csv").write_text("what,id\nleak,L1\n")
    before = {p: p.read_bytes() for p in folder.rglob("*") if p.is_file()}
    found = propose(folder)
    assert found.tables() == (
        "pipes", "valves", "meters", "zones", "connections", "sensors", "sources", "works",
        "breaks",
    )  # fmt: skip
    assert {g.sureness for g in (*found.layers, *found.records, *found.readings)} == {"sure"}
    assert {(k.pattern, k.layout) for k in found.readings} == {
        ("readings/others.csv", "wide"),
        ("readings/zones.csv", "long"),
    }
    assert found.left_out == ()
    assert {p: p.read_bytes() for p in folder.rglob("*") if p.is_file()} == before


def test_each_guess_says_why(tmp_path: Path) -> None:
    found = propose(make_folder(tmp_path / "small"))
    assert all(g.why for g in (*found.layers, *found.records, *found.readings))
    assert all(c.why for g in (*found.layers, *found.records) for c in g.columns)


def test_of_two_tables_of_breaks_the_better_is_taken(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    (folder / "z old bursts.csv").write_text("Date found,Pipe No\n03.02.2019,P3\n04.02.2019,P1\n")
    found = propose(folder)
    assert [g.file for g in found.records] == ["works.csv", "breaks.csv"]
    assert ("z old bursts.csv", "it looks like breaks too") in {
        (one.file, one.why) for one in found.left_out
    }


def test_breaks_told_by_their_place_are_known_too(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    (folder / "breaks.csv").unlink()
    (folder / "main bursts.csv").write_text("Date found,Lat,Lon\n03.02.2019,47.0005,7.002\n")
    (found,) = [g for g in propose(folder).records if g.table == "breaks"]
    assert (found.file, found.lacking) == ("main bursts.csv", ())
    assert {c.ours: c.theirs for c in found.columns} == {
        "date": "Date found",
        "longitude_deg": "Lon",
        "latitude_deg": "Lat",
    }


FIELD_RECORDS = {
    "leak survey 2025.csv": "Survey date,Pipe No,Technique,Leak found\n2025-03-11,P1,sounding,no\n",
    "step_test_march.csv": "Test,Time,Valve shut,Inflow (m3/h)\n"
    "T1,2025-03-12 01:00,,9.5\nT1,2025-03-12 01:15,V1,4.1\n",
    "correlator.csv": "Date,Point A,Point B,Time delay (ms),Velocity m/s,Length m\n"
    "2025-03-12,V1,MB,24,1250,100\n",
    "complaints.csv": "Reported,Location,Symptom\n2025-03-12 08:00,P2,damp patch\n",
}


def test_what_crews_and_the_public_saw_is_known_by_its_names(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    for name, text in FIELD_RECORDS.items():
        (folder / name).write_text(text)
    found = {g.table: g for g in propose(folder).records}
    assert [found[t].file for t in ("surveys", "step_tests", "correlations", "sightings")] == list(
        FIELD_RECORDS
    )
    assert {(c.ours, c.unit) for c in found["step_tests"].columns} == {
        ("test_id", ""),
        ("time", ""),
        ("valve_id", ""),
        ("flow_l_s", "m3/h"),
    }
    assert {c.ours: c.theirs for c in found["correlations"].columns} == {
        "date": "Date",
        "first_id": "Point A",
        "other_id": "Point B",
        "delay_ms": "Time delay (ms)",
        "length_m": "Length m",
        "wave_speed_m_s": "Velocity m/s",
    }


@pytest.mark.parametrize("files", [{}, {"notes.txt": "buy tea"}, {"a.json": "{}"}])
def test_a_folder_without_anything_of_use_is_one_message(
    tmp_path: Path, files: dict[str, str]
) -> None:
    for name, text in files.items():
        (tmp_path / name).write_text(text)
    with pytest.raises(InputError, match=r"none of use|no file of use") as caught:
        propose(tmp_path)
    assert len(caught.value.lines()) == 1


def test_a_folder_that_is_none_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such folder"):
        propose(tmp_path / "nowhere")


def test_a_record_left_out_says_what_it_lacks(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    text = FIELD_RECORDS["step_test_march.csv"].replace("Inflow (m3/h)", "Litres")
    (folder / "step_test_march.csv").write_text(text)
    (left,) = propose(folder).left_out
    assert left.why.startswith('its name says "step"')
    assert left.why.endswith(
        "not taken for step_tests, as it lacks flow_l_s: name its columns under "
        "[records.step_tests.columns]"
    )
