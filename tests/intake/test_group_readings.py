from __future__ import annotations

from pathlib import Path

import pandas as pd

from district.intake.group_readings import reading_kinds
from district.intake.guess_readings import Layout
from district.intake.proposal import ColumnGuess
from district.intake.survey import TableSample
from district.intake.table_shape import Shape


def kinds(folder: Path, files: dict[str, Layout], *others: str) -> list[tuple[str, int]]:
    for name in (*files, *others):
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text("")
    samples = [(TableSample(folder / n, n, pd.DataFrame()), one) for n, one in files.items()]
    found = reading_kinds(folder, samples)
    for kind in found:
        matched = {p.relative_to(folder).as_posix() for p in folder.glob(kind.pattern)}
        assert matched == set(kind.files)
    return [(k.pattern, len(k.files)) for k in found]


LONG = Layout("long", "sure", "", ())
WIDE = Layout("wide", "sure", "", ())


def test_files_alike_but_for_digits_are_one_pattern(tmp_path: Path) -> None:
    files = {f"r/m_2025-{n:02d}.csv": LONG for n in (1, 2, 11)} | {"r/w_2025.csv": WIDE}
    assert kinds(tmp_path, files) == [("r/m_2025-*.csv", 3), ("r/w_2025.csv", 1)]


def test_files_in_the_folder_itself(tmp_path: Path) -> None:
    assert kinds(tmp_path, {"1.csv": LONG, "2.csv": LONG}) == [("*.csv", 2)]


def test_a_pattern_never_catches_other_files(tmp_path: Path) -> None:
    files = {"r/m_1.csv": LONG, "r/m_2.csv": LONG}
    assert kinds(tmp_path, files, "r/m_notes.csv") == [("r/m_1.csv", 1), ("r/m_2.csv", 1)]


def test_files_of_another_layout_or_columns_are_another_kind(tmp_path: Path) -> None:
    other = Layout("long", "sure", "", (ColumnGuess("time", "Zeit", "sure", ""),))
    assert len(kinds(tmp_path, {"a1.csv": LONG, "a2.csv": other, "a3.csv": WIDE})) == 3


def test_names_with_marks_of_patterns(tmp_path: Path) -> None:
    assert kinds(tmp_path, {"a[1].csv": LONG}) == [("a[[]1].csv", 1)]


def test_sheets_alike_are_one_kind_others_are_named(tmp_path: Path) -> None:
    (tmp_path / "a.xlsx").write_text("")

    def sample(sheet: str, row: int = 1) -> TableSample:
        shape = Shape(heading_row=row, sheet=sheet, several=True)
        return TableSample(tmp_path / "a.xlsx", "a.xlsx", pd.DataFrame(), shape, ("May", "June"))

    alike = [(sample("May", 3), LONG), (sample("June", 3), LONG)]
    (kind,) = reading_kinds(tmp_path, alike)
    assert (kind.pattern, kind.files, kind.sheet) == ("a.xlsx", ("a.xlsx",), "")
    assert kind.heading_row == 3
    unlike = reading_kinds(tmp_path, [(sample("May", 3), LONG), (sample("June"), WIDE)])
    assert sorted((k.sheet, k.layout, k.heading_row) for k in unlike) == [
        ("June", "wide", 1),
        ("May", "long", 3),
    ]
    # The other sheet holds something else.
    (alone,) = reading_kinds(tmp_path, [(sample("May"), LONG)])
    assert alone.sheet == "May"


def test_months_by_their_names_are_one_kind(tmp_path: Path) -> None:
    names = {f"flows {m} 2025.csv": LONG for m in ("Jan", "Feb", "October")}
    assert kinds(tmp_path, names) == [("flows * 2025.csv", 3)]
