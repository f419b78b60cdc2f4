from __future__ import annotations

from district.errors import Finding
from district.intake.grouped import LIMIT, by_row, grouped


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
    mixed = [finding(row, source=f"{row % 2}.csv") for row in range(8)]
    assert len(grouped(mixed)) == 8


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
    (one,) = told(list(range(2, 102)))
    assert one.place == "rows 2, 3, 4 and 97 more"
    assert one.got == '"2", "3", "4" and others'
