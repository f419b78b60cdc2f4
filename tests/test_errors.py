from __future__ import annotations

from district.errors import Finding, InputError, OutputError, StageError, worst_first


def test_a_finding_reads_as_place_got_expected_remedy() -> None:
    finding = Finding(
        "error", "pipes.gpkg", "pipe P1", "material", '"gold"', "one of pvc, steel", "Correct it"
    )
    assert finding.sentence() == (
        'pipes.gpkg, pipe P1, column material: got "gold", expected one of pvc, steel. Correct it.'
    )


def test_a_finding_about_a_whole_file_leaves_the_place_out() -> None:
    assert Finding("note", "breaks.csv", got="3 copies").sentence() == "breaks.csv: got 3 copies."


def test_errors_come_first_and_copies_once() -> None:
    warning, error = Finding("warning", "a"), Finding("error", "b")
    assert worst_first([warning, error, warning]) == (error, warning)


def test_an_input_error_carries_every_finding() -> None:
    error = InputError([Finding("error", "a.csv", got="x"), Finding("error", "b.csv", got="y")])
    assert error.lines() == ("a.csv: got x.", "b.csv: got y.")
    assert error.exit_code == StageError("").exit_code == OutputError("").exit_code == 2
