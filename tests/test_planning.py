"""The plan of renewal of a small folder: with readings and without, with breaks, one, and none."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from district.errors import InputError, StageError
from district.planning import backtest_folder, renew_folder, write_renewal
from district.schema.columns import check
from district.schema.renewal_tables import RENEWAL_PIPES, RENEWAL_PROJECTS
from tests.bad_inputs.small_folder import make_folder, read_layer, write_layer


def breaks(folder: Path, *rows: str) -> None:
    (folder / "breaks.csv").write_text("\n".join(["date,pipe_id,kind", *rows]) + "\n")


def many(folder: Path) -> None:
    breaks(
        folder, *(f"{year}-0{1 + year % 9}-03,P{1 + year % 4},main" for year in range(1995, 2025))
    )


def test_a_folder_with_readings_gets_a_list_and_a_year_of_surveys(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    many(folder)
    said: list[str] = []
    found = renew_folder(folder, budget_currency=1e6, say=said.append)
    assert "choosing what to renew" in said
    assert found.year == 2025
    assert list(check(RENEWAL_PIPES, found.pipes, source="pipes")[1]) == []
    assert list(check(RENEWAL_PROJECTS, found.projects, source="projects")[1]) == []
    assert found.projects["cost_currency"].sum() <= 1e6
    assert set(found.lines["pipe_id"]) == set(found.pipes["pipe_id"])
    assert len(found.survey_year) > 0
    assert found.backtest is not None
    assert found.rates.terms["breaks_count"].max() >= 25
    paths = write_renewal(found, tmp_path / "out")
    assert len(paths) > 3
    assert all(p.stat().st_size > 0 for p in paths)


def test_the_map_and_the_breaks_suffice(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    many(folder)
    found = renew_folder(folder, with_readings=False)
    assert found.year == 2025
    assert found.survey_year.empty
    assert any("Without readings" in line for line in found.basis.limits)
    assert not (folder / ".district").exists()


@pytest.mark.parametrize("odd", ["1911-05-03", "2201-05-03"])
def test_a_mistyped_date_moves_neither_the_record_nor_the_year(tmp_path: Path, odd: str) -> None:
    rows = [f"{2000 + n // 2}-0{1 + n % 9}-03,P{1 + n % 4},main" for n in range(50)]
    folder = make_folder(tmp_path / "small")
    breaks(folder, *rows, f"{odd},P3,main")
    found = renew_folder(folder, with_readings=False)
    assert found.year == 2025
    assert found.rates.history["from_year"].min() > 1999
    # The one as older than its pipe, the other as outside the record.
    assert any(odd in f.sentence() for f in found.findings)


def test_a_budget_not_told_is_that_of_the_settings(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    usual = renew_folder(folder, with_readings=False)
    assert any(line.startswith("No budget is told: one hundredth") for line in usual.basis.limits)
    assert usual.budget_currency == pytest.approx(usual.pipes["renewal_currency"].sum() / 100)
    settings = folder / "district.toml"
    settings.write_text(settings.read_text() + "\n[renew]\nbudget_currency = 70000\n")
    told = renew_folder(folder, with_readings=False)
    assert told.budget_currency == 70_000
    assert not any("No budget" in line for line in told.basis.limits)
    asked = renew_folder(folder, with_readings=False, budget_currency=5.0, year=2031)
    assert (asked.budget_currency, asked.year) == (5.0, 2031)
    assert asked.projects.empty


def test_a_year_before_the_record_ends_is_refused_at_once(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    many(folder)
    settings = folder / "district.toml"
    dates = "\n[renew]\nrecord_dates = [1995-01-01, 2024-12-31]\n"
    settings.write_text(settings.read_text() + dates)
    with pytest.raises(StageError, match="runs to 2024-12-31, so that a list of 2010 would know"):
        renew_folder(folder, year=2010)
    found = renew_folder(folder, with_readings=False, year=2040)
    assert found.said[0].startswith("The plan is of 2040, 15 years after the record")


@pytest.mark.parametrize(
    ("rows", "said"),
    [((), "There is no record of breaks"), (("2019-02-03,P3,main",), "One break is on record")],
    ids=["none", "one"],
)
def test_a_history_of_one_break_or_none_is_said(
    tmp_path: Path, rows: tuple[str, ...], said: str
) -> None:
    folder = make_folder(tmp_path / "small")
    breaks(folder, *rows)
    found = renew_folder(folder, with_readings=False)
    assert any(said in line for line in found.basis.limits)
    assert found.backtest is None
    assert (found.pipes["breaks_per_year"] > 0).all()


def test_the_year_of_the_plan_may_be_told_by_the_pipes_or_by_nobody(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    breaks(folder)
    pipes = read_layer(folder, "pipes")
    for pipe in pipes:
        pipe["properties"]["installed_year"] = 1987
    write_layer(folder, "pipes", pipes)
    assert renew_folder(folder, with_readings=False).year == 1988
    for pipe in pipes:
        pipe["properties"]["installed_year"] = None
    write_layer(folder, "pipes", pipes)
    with pytest.raises(StageError, match="Say the year of the plan with --year"):
        renew_folder(folder, with_readings=False)
    assert renew_folder(folder, with_readings=False, year=2030).year == 2030


def test_an_id_used_again_is_told_and_not_counted(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    pipes = read_layer(folder, "pipes")
    for pipe in pipes:
        if pipe["properties"]["pipe_id"] == "P3":
            pipe["properties"]["installed_year"] = 2021
    write_layer(folder, "pipes", pipes)
    found = renew_folder(folder, with_readings=False)
    assert any("before its pipe was laid" in line for line in found.basis.limits)
    told = [f.sentence() for f in found.findings if "breaks.csv" in f.source]
    assert any("2021" in line for line in told), json.dumps(told)


def test_a_list_can_be_held_against_later_breaks_from_the_map_alone(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    many(folder)
    tested, rates = backtest_folder(folder, year=2012)
    assert tested.year == 2012
    assert set(tested.table["ranking"]) == {"rates", "breaks", "age", "random"}
    assert len(rates.table) == 6
    with pytest.raises(StageError, match="on either side"):
        backtest_folder(folder, year=1990)


def test_repairs_on_record_count_as_breaks_and_it_is_said(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    many(folder)
    before = renew_folder(folder, with_readings=False)
    with (folder / "works.csv").open("a") as works:
        works.write("2024-06-01 08:00,2024-06-01 12:00,repair,P6,clamp\n")
    after = renew_folder(folder, with_readings=False)
    counted = "1 repaired leak on record counted among the breaks."
    assert counted in after.basis.assumptions
    assert counted not in before.basis.assumptions
    breaks = after.pipes.set_index("pipe_id")["breaks_count"]
    assert breaks["P6"] == before.pipes.set_index("pipe_id")["breaks_count"]["P6"] + 1


def test_a_folder_that_cannot_be_used_says_so(tmp_path: Path) -> None:
    with pytest.raises(InputError):
        renew_folder(tmp_path / "nowhere")
