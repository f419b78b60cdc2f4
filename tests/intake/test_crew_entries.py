"""Forms out, filled in by hand, and back in."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

from district.intake.crew_entries import NEEDED, read_entries
from district.render.tables import as_csv
from district.schema.entry_forms import ENTRIES, ENTRY_FORM, ENTRY_RECORDS, entry_form
from district.settings import District, Layer, Settings

LONDON = Settings(district=District(timezone="Europe/London"))
HEAD = ",".join(ENTRY_FORM.names())


def write(folder: Path, *lines: str, name: str = "entries/a.csv") -> None:
    (folder / name).parent.mkdir(exist_ok=True)
    (folder / name).write_text("\n".join(lines) + "\n", encoding="utf-8")


def told(folder: Path, settings: Settings = LONDON) -> list[str]:
    return [f.sentence() for f in read_entries(folder, settings).findings]


def test_a_form_that_comes_back_as_it_went_out_tells_nothing(tmp_path: Path) -> None:
    walk = pd.DataFrame({"pipe_id": ["P1", "=P2"], "from_m": [0.0, 5.0], "to_m": [9.0, 8.0]})
    form = entry_form("J1", walk=walk, steps=["V1"], correlations=[("V1", "V2")], valves=["V1"])
    write(tmp_path, as_csv(ENTRY_FORM, form))
    read = read_entries(tmp_path, LONDON)
    assert (len(read.frame), read.findings, read.files) == (0, (), ("entries/a.csv",))
    assert tuple(read.frame.columns) == ENTRIES.names()


def test_what_the_crew_filled_in_is_read_with_its_file_and_row(tmp_path: Path) -> None:
    walk = pd.DataFrame({"pipe_id": ["P1", "=P2"]})
    form = entry_form("J1", walk=walk, repairs=["P2"], spare_count=0)
    form.loc[1, ["record", "time"]] = ["nothing found", "22/07/2025"]
    form.loc[2, ["time", "cost_currency", "leak_kind"]] = ["2025-07-14 09:30", "1 250", "Joint"]
    form["time"] = form["time"].fillna("")
    write(tmp_path, form.to_csv(index=False).replace("=P2", "'=P2"))
    read = read_entries(tmp_path, LONDON)
    assert [f.severity for f in read.findings if f.severity != "note"] == []
    survey, repair = read.frame.to_dict("records")
    assert (survey["place_id"], survey["record"]) == ("=P2", "nothing_found")
    assert (repair["row"], repair["file"]) == (4.0, "entries/a.csv")
    assert repair["time"] == pd.Timestamp("2025-07-14 08:30", tz="UTC")
    assert (repair["cost_currency"], repair["leak_kind"]) == (1250.0, "joint")


@pytest.mark.parametrize("record", ENTRY_RECORDS)
def test_what_a_row_needs_is_named(tmp_path: Path, record: str) -> None:
    write(tmp_path, "record,job_id,crew", f"{record},,Ann")
    wanted = {*NEEDED[record], *(["place_id"] if record == "sighting" else [])}
    found = read_entries(tmp_path, LONDON)
    assert {f.column for f in found.findings} == wanted
    assert {(f.severity, f.place, f.source) for f in found.findings} == {
        ("warning", "row 2", "entries/a.csv")
    }
    assert found.frame.empty


def test_one_slip_empties_a_cell_or_leaves_out_a_row_and_stops_nothing(tmp_path: Path) -> None:
    write(
        tmp_path,
        "record,job_id,time,place_id,flow_l_s,cost_currency",
        "repair,J1,2025-07-14,P1,,about a thousand",
        "step,J1,2025-07-14 01:00,V1,wet,",
        "danced,J1,2025-07-14,P1,,",
    )
    assert told(tmp_path) == [
        'entries/a.csv, row 4, column record: got "danced", expected one of repair, nothing_found, '
        "leak_found, step, correlation, sighting, valve. Correct it, or say under "
        '[records.entries.values.record] in district.toml what it means, as in "danced" = '
        '"repair".',
        'entries/a.csv, row 2, column cost_currency: got "about a thousand", expected a number of '
        "at least 0. Correct the value or leave it empty to use the default.".replace(
            "of at least 0", "from 0 to 1e+09"
        ),
        'entries/a.csv, row 3, column flow_l_s: got "wet", expected a number in L/s of at least 0. '
        "Correct the value; until then the row is left out.",
    ]
    read = read_entries(tmp_path, LONDON)
    assert {f.severity for f in read.findings} == {"warning"}
    assert read.frame["record"].tolist() == ["repair"]


def test_a_copy_counts_once_and_is_told(tmp_path: Path) -> None:
    row = "repair,J1,2025-07-14,P1"
    write(tmp_path, "record,job_id,time,place_id", row)
    write(tmp_path, "record,job_id,time,place_id", row, name="entries/a (1).csv")
    assert told(tmp_path) == [
        "entries/a.csv, row 2: got the same as row 2 of entries/a (1).csv, expected each "
        "observation once. Remove the copy; it counts once."
    ]
    assert len(read_entries(tmp_path, LONDON).frame) == 1


def test_a_file_that_is_no_form_is_an_error(tmp_path: Path) -> None:
    write(tmp_path, "date,pipe_id", "2025-07-14,P1")
    (finding,) = read_entries(tmp_path, LONDON).findings
    assert (finding.severity, finding.column) == ("error", "record")


def test_forms_may_lie_elsewhere_and_have_other_headings(tmp_path: Path) -> None:
    write(tmp_path, "what was it,time,place_id", "fixed,2025-07-14,P1", name="back/x.csv")
    said = Layer(file="back/*.csv", columns={"record": "what was it"})
    settings = LONDON.model_copy(update={"records": {"entries": said}})
    assert read_entries(tmp_path, settings).frame["record"].tolist() == ["repair"]


def test_a_file_that_is_named_and_not_there_is_told_a_pattern_without_files_is_not(
    tmp_path: Path,
) -> None:
    for file, count in (("gone.csv", 1), ("gone/*.csv", 0)):
        settings = LONDON.model_copy(update={"records": {"entries": Layer(file=file)}})
        assert len(told(tmp_path, settings)) == count
