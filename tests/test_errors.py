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


def test_a_sentence_is_one_line_of_signs_that_can_be_shown() -> None:
    finding = Finding("error", "a\nb.csv", "row\r2", "c\x1b[31m", '"\x00\ud800"', "x\u2028y", "z\t")
    assert finding.sentence() == ('a�b.csv, row�2, column c�[31m: got "��", expected x�y. z�.')
    assert Finding("note", "é 🚰\u00a0x", got="ß").sentence() == "é 🚰\u00a0x: got ß."


def test_what_is_endless_is_cut() -> None:
    sentence = Finding("error", "a.csv", "pipe " + "P" * 5000, "c" * 5000, "g" * 5000).sentence()
    assert len(sentence) < 800
    assert "PPP..., column c" in sentence
