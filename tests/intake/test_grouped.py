from __future__ import annotations

from district.errors import Finding
from district.intake.grouped import LIMIT, by_row, grouped
from district.words import whole


def finding(row: int, got: str = '"x"', source: str = "a.csv") -> Finding:
    return Finding("warning", source, f"row {row}", "value", got, "a number", "Mend it")


def test_a_few_alike_stay_apart() -> None:
    few = [finding(row) for row in range(2, 2 + LIMIT)]
    assert grouped(few) == tuple(few)


def test_many_alike_become_one_with_count_and_first_rows() -> None:
    many = [finding(row, got) for row, got in zip(range(2, 9), "abacada", strict=True)]
    (one,) = grouped(many)
    assert one.place == "rows 2, 3, 4 and 4 more"
    assert one.got == "a, b, c and others"


def test_other_files_are_counted_apart() -> None:
    mixed = [finding(row, source=f"{row % 2}.csv") for row in range(2 * LIMIT)]
    assert len(grouped(mixed)) == 2 * LIMIT


def test_rows_are_told_one_by_one_or_together() -> None:
    def told(rows: list[int]) -> list[Finding]:
        return by_row(
            "note",
            "a.csv",
            column="value",
            rows=rows,
            got=[f'"{r}"' for r in rows],
            expected="a number",
            remedy="Mend it",
        )

    assert [f.place for f in told([2, 3])] == ["row 2", "row 3"]
    some = told(list(range(2, 102)))
    assert sum(f.count for f in some) == 100
    (one,) = grouped(some)
    assert one.place == "rows 2, 3, 4 and 97 more"
    assert one.got == '"2", "3", "4" and others'


def test_pieces_of_a_file_are_told_as_one() -> None:
    def piece(rows: range, got: str) -> list[Finding]:
        return by_row(
            "note",
            "a.csv",
            column="value",
            rows=rows,
            got=[got] * len(rows),
            expected="a number",
            remedy="Mend it",
        )

    (one,) = grouped([*piece(range(1001, 2001), '"b"'), *piece(range(2, 1001), '"a"')])
    assert one.place == f"rows 2, 3, 4 and {whole(1996)} more"
    assert one.got == '"a", "b"'
    assert one.count == 1999


def test_of_many_rows_the_first_of_every_value_is_kept() -> None:
    got = ["x"] * 50 + ["y"] * 50
    found = by_row("note", "a.csv", column="", rows=range(100), got=got, expected="e", remedy="R")
    assert [f.place for f in found] == [f"row {i}" for i in (0, 1, 2, 50)]
    (one,) = grouped(found)
    assert one.got == "x, y"
