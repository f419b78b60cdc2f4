"""A folder nobody described: guessed, written, and run, it gives what a described one gives."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from district.intake.guess import how_like
from district.intake.guess_readings import guess_layout
from district.intake.reading_ids import reading_words
from district.intake.survey import plain as plain_frame
from district.opening import Opened
from district.pipeline import balance_folder, init_folder
from district.results import Balance
from district.schema.inputs import LAYERS, RECORDS
from tests.bad_inputs.small_folder import make_folder
from tests.examples import examples

CLOCK = ('#timezone = "UTC"', 'timezone = "Europe/Zurich"')
AWKWARD: dict[str, tuple[str, dict[str, str]]] = {
    "pipes": (
        "WTR_MAINS_2019",
        {
            "pipe_id": "ASSET_ID",
            "material": "MATL",
            "diameter_mm": "DIAM",
            "installed_year": "YR_LAID",
        },
    ),
    "valves": ("Sluice_VLV", {"valve_id": "VALVENO", "kind": "TYPE", "state": "STATUS"}),
    "meters": (
        "BulkMtrs",
        {
            "meter_id": "MTR_REF",
            "role": "PURPOSE",
            "downstream": "DMA",
            "kind": "METERTYPE",
            "reading_unit": "UOM",
            "litres_per_pulse": "L_PULSE",
        },
    ),
    "zones": ("DMA_Bndry", {"zone_id": "DMA_CODE", "name": "DMA_NAME", "parent_id": "PARENT"}),
    "connections": (
        "Services",
        {"connection_id": "SVC_NO", "properties": "NO_PROPS", "meter_id": "METER_NO"},
    ),
    "sensors": ("Loggers", {"sensor_id": "LOGGER_ID", "kind": "TYPE", "elevation_m": "ELEV"}),
    "sources": ("Reservoirs", {"source_id": "NAME", "head_m": "TWL"}),
}


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Balance:
    return balance_folder(make_folder(tmp_path_factory.mktemp("plain") / "small"))[1]


def guessed(folder: Path) -> tuple[Opened, Balance]:
    """The balance of a folder after `init`, with its clock filled in as a person would."""
    found = init_folder(folder)
    assert found.text == found.path.read_text(encoding="utf-8")
    assert any(words.startswith("timezone") for words in found.to_fill_in)
    text = found.text.replace(*CLOCK)
    assert text != found.text
    found.path.write_text(text, encoding="utf-8")
    return balance_folder(folder)


def assert_same_zones(found: Balance, plain: Balance, *, rtol: float) -> None:
    some, whole = (r.zones.set_index("cell_id").sort_index() for r in (found, plain))
    assert list(some.index) == list(whole.index)
    assert list(some["name"]) == list(whole["name"])
    for name in whole.select_dtypes("number").columns:
        np.testing.assert_allclose(some[name], whole[name], rtol=rtol, atol=rtol, err_msg=name)


def test_a_folder_without_settings_gives_the_same_zones(plain: Balance, tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    (folder / "district.toml").unlink()
    assert_same_zones(guessed(folder)[1], plain, rtol=1e-9)


def awkward(folder: Path, write: Callable[[gpd.GeoDataFrame, str], None]) -> None:
    """The small folder's layers under the names of another trade, bores in inches."""
    source = make_folder(folder.parent / "source")
    for table, (file, columns) in AWKWARD.items():
        layer = gpd.read_file(source / f"{table}.geojson").rename(columns=columns)
        if table == "pipes":
            layer["DIAM"] = [4, 6, 8, 4, 6, 12]
            layer["OBJECTID"] = range(1, 7)
            layer["SHAPE_Leng"] = 0.001
        write(layer.to_crs(32632), file)
    shutil.copytree(source / "readings", folder / "Logger data")
    rows = pd.read_csv(source / "readings" / "zones.csv")
    rows.columns = pd.Index(["Meter No", "Date/Time", "Flow"])
    rows.to_csv(folder / "Logger data" / "zones.csv", index=False)


def test_shapefiles_with_awkward_names_and_inches(plain: Balance, tmp_path: Path) -> None:
    folder = tmp_path / "awkward"
    (folder / "GIS").mkdir(parents=True)
    awkward(folder, lambda layer, file: layer.to_file(folder / "GIS" / f"{file}.shp"))
    opened, found = guessed(folder)
    # Names, columns and the projection differ, the water does not.
    assert_same_zones(found, plain, rtol=2e-3)
    bores = opened.network.pipes.set_index("layer_pipe_id")["diameter_mm"]
    assert bores["P6"] == pytest.approx(12 * 25.4)


def test_one_geopackage_of_many_layers(plain: Balance, tmp_path: Path) -> None:
    folder = tmp_path / "package"
    folder.mkdir()
    awkward(folder, lambda layer, file: layer.to_file(folder / "site.gpkg", layer=file))
    assert_same_zones(guessed(folder)[1], plain, rtol=2e-3)


def test_zipped_shapefiles(plain: Balance, tmp_path: Path) -> None:
    folder = tmp_path / "zipped"
    folder.mkdir()

    def write(layer: gpd.GeoDataFrame, file: str) -> None:
        (tmp_path / file).mkdir()
        layer.to_file(tmp_path / file / f"{file}.shp")
        shutil.make_archive(str(folder / file), "zip", tmp_path / file)

    awkward(folder, write)
    assert_same_zones(guessed(folder)[1], plain, rtol=2e-3)


def test_an_export_for_each_logger_and_a_spreadsheet(plain: Balance, tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    (folder / "district.toml").unlink()
    rows = pd.read_csv(folder / "readings" / "zones.csv")
    for device_id, own in rows.groupby("device_id"):
        export = pd.DataFrame(
            {
                "Zeitstempel": own["time"],
                ("Durchfluss l/s" if device_id == "MA" else "Impulse"): [
                    str(v).replace(".", ",") for v in own["value"]
                ],
            }
        )
        export.to_csv(folder / f"logger_{device_id}_2025-03.csv", sep=";", index=False)
    (folder / "readings" / "zones.csv").unlink()
    book = pd.read_csv(folder / "readings" / "others.csv").rename(columns={"CM1": "CM1 (m3)"})
    book.to_excel(folder / "meter book.xlsx", index=False)
    (folder / "readings" / "others.csv").unlink()
    assert_same_zones(guessed(folder)[1], plain, rtol=1e-9)


def test_a_logger_export_with_other_lines_and_a_book_of_sheets(
    plain: Balance, tmp_path: Path
) -> None:
    folder = make_folder(tmp_path / "small")
    (folder / "district.toml").unlink()
    rows = pd.read_csv(folder / "readings" / "zones.csv")
    ours = rows[rows["device_id"] == "MA"]
    lines = ["Logger;7", "Exported;2025-03-13 08:00", "", "Datum;Uhrzeit;Durchfluss", ";;l/s"]
    lines += [f"{t[8:10]}.03.2025;{t[11:]};{v}" for t, v in zip(ours.time, ours.value, strict=True)]
    text = "\n".join([*lines, "Ende der Daten"]).replace(".0;", ";")
    (folder / "export MA.csv").write_text(text + "\n")
    pulses = rows[rows["device_id"] == "MB"]
    works = pd.read_csv(folder / "works.csv")
    with pd.ExcelWriter(folder / "book.xlsx") as book:
        for day, some in pulses.groupby(pulses["time"].str[:10]):
            some.to_excel(book, sheet_name=str(day), index=False, startrow=2)
        works.to_excel(book, sheet_name="Works done", index=False)
        pd.DataFrame({"Read by the caretaker": []}).to_excel(book, sheet_name="Notes", index=False)
    (folder / "readings" / "zones.csv").unlink()
    (folder / "works.csv").unlink()
    assert_same_zones(guessed(folder)[1], plain, rtol=1e-9)
    written = (folder / "district.toml").read_text()
    assert 'date = "Datum"' in written
    assert 'time_of_day = "Uhrzeit"' in written


def test_a_second_run_changes_no_byte_and_an_edit_survives(tmp_path: Path) -> None:
    folder = make_folder(tmp_path / "small")
    (folder / "district.toml").unlink()
    path = init_folder(folder).path
    first = path.read_bytes()
    assert init_folder(folder).text == ""
    assert path.read_bytes() == first
    edited = first.replace(b'#currency = "EUR"', b'currency = "CHF"  # ours')
    path.write_bytes(edited)
    (folder / "new_2026.csv").write_bytes((folder / "readings" / "zones.csv").read_bytes())
    assert "new_2026.csv" in init_folder(folder).added
    assert path.read_bytes().startswith(edited)
    after = path.read_bytes()
    init_folder(folder)
    assert path.read_bytes() == after


HEADINGS = st.sampled_from(
    ["time", "value", "device_id", "M1", "DIA", "MATL", "ID", "YR_LAID", "role", "state", "len_ft"]
) | st.text(max_size=6)
CELLS = st.one_of(
    st.none(),
    st.sampled_from(["M1", "2025-01-01 00:00", "1,5", "open", "", " "]),
    st.floats(),
    st.integers(-(10**20), 10**20),
    st.text(max_size=5),
    st.booleans(),
    st.lists(st.integers(), max_size=2),
    st.datetimes(),
)


@settings(max_examples=examples(15), deadline=None, derandomize=True)
@given(st.data())
def test_no_table_is_so_odd_that_guessing_fails(data: st.DataObject) -> None:
    count = data.draw(st.integers(1, 5))
    headings = data.draw(st.lists(HEADINGS, min_size=1, max_size=4, unique=True))
    cells = st.lists(CELLS, min_size=count, max_size=count)
    frame = plain_frame(pd.DataFrame({h: pd.Series(data.draw(cells)) for h in headings}))
    words = reading_words(frame, "x.csv")
    guess_layout(frame, file="M1.csv", devices={"M1": "register"})
    for table in (*LAYERS, *RECORDS):
        assert how_like(table, frame, name="mains", read_ids=words).table == table.name
