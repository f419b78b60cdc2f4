from __future__ import annotations

from pathlib import Path

from district.intake import propose
from district.intake.guess_entries import guess_entries, is_form
from district.intake.sections import layer_section, no_layer
from district.intake.survey import survey
from district.schema.entry_forms import ENTRY_FORM
from tests.bad_inputs.small_folder import make_folder

FORM = ",".join(ENTRY_FORM.names()) + "\nrepair,J1,2025-07-14,,P1" + "," * 17 + "\n"


def write(folder: Path, *names: str) -> None:
    for name in names:
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_text(FORM)


def test_forms_are_known_by_their_headings_and_named_by_a_pattern(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    write(folder, "back from site/one.csv", "back from site/two.csv")
    guess = next(g for g in propose(folder).records if g.table == "entries")
    assert (guess.file, guess.sureness) == ("back from site/*.csv", "sure")
    lines = layer_section(guess)
    assert lines[0].startswith("[records.entries]  # sure")
    assert 'file = "back from site/*.csv"' in lines


def test_a_pattern_that_would_find_other_tables_is_none(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    write(folder, "one.csv", "readings/two.csv")
    tables = survey(folder)[1]
    forms = [t for t in tables if is_form(t)]
    assert len(forms) == 2
    (guess,), left = guess_entries(forms, others=[t for t in tables if t not in forms])
    assert guess.file == "one.csv"
    assert [one.file for one in left] == ["readings/two.csv"]


def test_where_there_is_none_the_settings_say_what_it_would_be() -> None:
    assert no_layer(ENTRY_FORM, needed=False)[0].startswith("#[records.entries]")
