from __future__ import annotations

from district.errors import Finding
from district.render.findings import MOST, as_table, gathered
from district.schema import outputs


def rows(count, severity="warning", **said):
    return [
        Finding(severity, "a.csv", f"row {n}", "value", **{"got": "-4", "expected": "more", **said})
        for n in range(count)
    ]


def test_like_findings_make_one_group_worst_first(report):
    groups = gathered(report.findings)
    assert [(g.severity, g.count) for g in groups] == [("error", 1), ("warning", 40), ("note", 1)]


def test_a_single_finding_is_its_sentence():
    (group,) = gathered(rows(1, remedy="Check it"))
    assert group.headline == "a.csv, row 0, column value: got -4, expected more. Check it."
    assert group.sentences == ()


def test_a_group_counts_and_says_what_to_do():
    (group,) = gathered(rows(3, remedy="Check it"))
    assert group.headline == "a.csv, column value: 3 times, expected more. Check it."
    assert len(group.sentences) == 3


def test_differing_expectations_give_an_example():
    mixed = [*rows(1), *(Finding("warning", "a.csv", "row 9", "value", "1", "fewer") for _ in "a")]
    (group,) = gathered(mixed)
    assert group.headline == (
        "a.csv, column value: 2 times, for example: "
        "a.csv, row 0, column value: got -4, expected more."
    )


def test_of_several_things_that_should_not_be_one_is_told():
    got = ("2 spikes", "3 stuck values")
    (group,) = gathered(Finding("note", "a.csv", got=g, expected="none") for g in got)
    assert group.headline == "a.csv: 2 times, for example: a.csv: got 2 spikes, expected none."


def test_a_long_list_is_cut_but_counted():
    (group,) = gathered(rows(MOST + 50))
    assert group.count == MOST + 50
    assert len(group.sentences) == MOST


def test_table_has_every_finding_and_the_declared_columns(report):
    table = as_table(report.findings)
    assert tuple(table.columns) == outputs.FINDINGS.names()
    assert len(table) == 42
    assert as_table(()).empty
