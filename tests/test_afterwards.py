"""A form goes out, comes back filled in, and the leak is sought elsewhere, mended, verified, and in
the ledger."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from datetime import date
from pathlib import Path

import pandas as pd
import pytest

from district.afterwards import breaks_known, ledger_found, repairs_known, repairs_verified
from district.opening import Opened
from district.pipeline import events_folder, locate_folder, verify_folder
from district.render.tables import as_csv
from district.results import Events, Location
from district.schema.entry_forms import ENTRY_FORM, entry_form
from tests.watch.long_folder import add_days, make_long

RUNNING, MENDED = 56, 77
"""Days of readings from 1 February on, while the leak of 20 March runs and after it was mended."""
REPAIRED = "2025-04-08"


def fill(form: pd.DataFrame, path: Path, **cells: dict[int, str]) -> None:
    """Write the form as it goes out, and fill cells in by hand: column -> row -> text."""
    rows = list(csv.DictReader(io.StringIO(as_csv(ENTRY_FORM, form))))
    for column, texts in cells.items():
        for row, text in texts.items():
            rows[row][column] = text
    with path.open("w", newline="") as out:
        writer = csv.DictWriter(out, ENTRY_FORM.names())
        writer.writeheader()
        writer.writerows(rows)


@pytest.fixture(scope="module")
def located(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Location, Location]:
    """The folder while the leak runs, and where it is sought before and after the walk."""
    folder = make_long(tmp_path_factory.mktemp("afterwards") / "long", days=RUNNING)
    (folder / "entries").mkdir()
    walk = pd.DataFrame({"pipe_id": ["P2", "P3", "P4"]})
    form = entry_form("J-12", walk=walk, method="ground_microphone", repairs=["P2"])
    path = folder / "entries/walk.csv"
    fill(form, path)
    *_, before = locate_folder(folder)
    told = {0: "leak found", 1: "nothing", 2: "nothing"}
    fill(form, path, record=told, time=dict.fromkeys(told, "2025-04-02"), from_m={0: "31"})
    *_, after = locate_folder(folder)
    return folder, before, after


@pytest.fixture(scope="module")
def mended(located: tuple[Path, Location, Location]) -> tuple[Opened, Events]:
    """The same folder some weeks later, with the repair on a form of its own."""
    folder = located[0]
    for week in range(RUNNING // 7, MENDED // 7):
        path = add_days(folder, 7 * week, 7 * week + 7)
        lines = [line.split(",") for line in path.read_text().splitlines()]
        path.write_text(
            "".join(
                f"{device},{time},{float(value) - 0.5:.2f}\n"
                if device == "MA" and time >= f"{REPAIRED} 08:00"
                else f"{device},{time},{value}\n"
                for device, time, value in lines
            )
        )
    form = entry_form("J-13", repairs=["P2"])
    cells = {"time": f"{REPAIRED} 07:30", "end": f"{REPAIRED} 10:00", "leak_kind": "joint"}
    cells |= {"size_l_s": "0.4", "cost_currency": "900", "crew": "Ann"}
    fill(form, folder / "entries/repair.csv", **{name: {0: text} for name, text in cells.items()})
    opened, _, events = events_folder(folder)
    return opened, events


def test_what_the_walk_told_moves_the_search(
    located: tuple[Path, Location, Location],
) -> None:
    _, before, after = located
    was, now = (x.stretches.set_index("stretch_id")["probability_share"] for x in (before, after))
    assert now["P2"] > was["P2"] + 0.1
    assert now["P3"] < was["P3"]
    assert "survey" in set(after.evidence["kind"])
    assert "survey" not in set(before.evidence["kind"])


def test_the_repair_closes_the_event_and_its_job(mended: tuple[Opened, Events]) -> None:
    opened, events = mended
    assert opened.findings == ()
    (event,) = events.events[events.events["place_id"] == "A"].to_dict("records")
    assert (event["state"], event["work"]) == ("repaired", f"a repair at P2 on {REPAIRED}")
    told = repairs_verified(opened.inputs, opened.network, events, opened.settings)
    (row,) = told.verifications.to_dict("records")
    assert (row["outcome"], row["event_id"]) == ("closed", event["event_id"])
    assert row["drop_l_s"] == pytest.approx(0.5, abs=0.02)
    late = date(2025, 5, 1)
    later = repairs_verified(opened.inputs, opened.network, events, opened.settings, since=late)
    assert later.verifications.empty
    assert (told.places["A"], told.currency) == ("Upper", "CHF")


def test_the_ledger_has_it_once_with_its_cost_and_water(mended: tuple[Opened, Events]) -> None:
    opened, events = mended
    found = ledger_found(opened.inputs, opened.network, events, opened.settings)
    leak = found.leaks.iloc[0]
    assert (leak["place_id"], leak["kind"], leak["state"]) == ("P2", "joint", "repaired")
    assert (leak["found"], leak["repair_d"]) == (pd.Timestamp("2025-04-02"), 6.0)
    assert (leak["repair_currency"], leak["judged_l_s"]) == (900.0, 0.4)
    # Half a litre a second for 19 days, by the definition of the made readings: 820 m3.
    assert leak["volume_m3_low"] <= 0.5 * 86.4 * 19 <= leak["volume_m3_high"]
    assert found.leaks["state"].tolist() == ["repaired", "recorded"]
    year = found.years.iloc[0]
    assert (year["year"], year["repaired_count"], year["verified_count"]) == (2025, 1, 1)
    assert "0.8 CHF" in found.basis.assumptions[0]


def test_the_pipe_has_one_break_more(mended: tuple[Opened, Events]) -> None:
    opened, events = mended
    known = breaks_known(opened.inputs, opened.network, events, opened.settings)
    assert known["pipe_id"].tolist() == ["P3", "P2"]
    inputs = replace(opened.inputs, breaks=known)
    assert len(breaks_known(inputs, opened.network, events, opened.settings)) == 2
    assert len(repairs_known(opened.inputs, opened.network, opened.settings)) == 1


def test_a_crew_that_must_go_back_is_told_the_walk(
    located: tuple[Path, Location, Location],
    mended: tuple[Opened, Events],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    (opened, events), (folder, _, location) = mended, located
    running = events.events.assign(state="open", end=pd.NaT)
    partly = events.repair_checks.assign(verdict="partly")
    left = replace(events, events=running, repair_checks=partly)
    monkeypatch.setattr("district.pipeline.events_folder", lambda *_, **__: (opened, None, left))
    monkeypatch.setattr("district.pipeline._located", lambda *_: location)
    _, _, told = verify_folder(folder)
    (row,) = told.verifications.to_dict("records")
    assert row["outcome"] == "crew_back"
    assert row["go_to"].startswith("Look again at and near P2; then walk ")
    assert row["walk_km"] > 0
