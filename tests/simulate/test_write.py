import json

import geopandas as gpd
import pandas as pd
import pytest

from district.schema import check
from district.schema.inputs import LAYERS, READINGS, RECORDS, SURFACES
from district.schema.truth import TRUTH, TRUTH_NIGHTS
from district.settings import read_settings
from district.simulate import Scenario, make_district

SHORT = Scenario(first=pd.Timestamp("2025-10-20").date(), days=7, customers_share=0.1)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    place = tmp_path_factory.mktemp("sample") / "district"
    make_district(place, seed=11, scenario=SHORT)
    return place


def test_the_same_seed_writes_the_same_bytes(folder, tmp_path):
    make_district(tmp_path / "again", seed=11, scenario=SHORT)
    files = sorted(p.relative_to(folder) for p in folder.rglob("*") if p.is_file())
    assert len(files) == 23
    for file in files:
        assert (folder / file).read_bytes() == (tmp_path / "again" / file).read_bytes(), file


def test_other_files_in_the_folder_stay(tmp_path):
    (tmp_path / "README.md").write_text("mine")
    make_district(tmp_path, seed=1, scenario=Scenario(days=2, customers_share=0.02))
    assert (tmp_path / "README.md").read_text() == "mine"
    assert (tmp_path / "district.toml").exists()


def test_layers_and_records_meet_the_schema(folder):
    settings = read_settings(folder)
    for table in (*LAYERS, SURFACES):
        frame = gpd.read_file(folder / settings.layers[table.name].file)
        assert len(frame), table.name
        assert frame.crs.to_epsg() == 4326
        assert check(table, frame, source=table.name)[1] == ()
    for table in RECORDS:
        frame = pd.read_csv(folder / settings.records[table.name].file)
        assert check(table, frame, source=table.name)[1] == ()
    for table in (TRUTH, TRUTH_NIGHTS):
        frame = pd.read_csv(folder / f"{table.name}.csv")
        assert check(table, frame, source=table.name)[1] == ()


def test_each_kind_of_reading_file_is_told_in_the_settings(folder):
    settings = read_settings(folder)
    found = {path for section in settings.readings for path in folder.glob(section.files)}
    assert found == set((folder / "readings").iterdir())
    assert settings.district.currency == "GBP"
    assert settings.allowances["farm"].l_property_h == 15


def test_long_readings_meet_the_schema(folder):
    for path in sorted((folder / "readings").iterdir()):
        if path.suffix == ".parquet":
            frame = pd.read_parquet(path)
            assert str(frame["time"].dtype) == "datetime64[ms, UTC]"
        elif not path.name.startswith("buildings"):
            frame = pd.read_csv(path)
        else:
            continue
        assert check(READINGS, frame, source=path.name)[1] == ()


def test_the_repeated_hour_stands_twice_and_in_order(folder):
    wide = pd.read_csv(folder / "readings" / "buildings_2025.csv")
    night = wide.loc[wide["time"].str.startswith("2025-10-26"), "time"].str[11:]
    assert list(night[:4]) == ["00:00", "01:00", "01:00", "02:00"]
    assert len(wide) == 7 * 24 + 2


def test_coordinates_have_8_decimals_at_most(folder):
    for path in (folder / "layers").glob("*.geojson"):
        said = json.loads(path.read_text(), parse_float=str)
        flat = [said["features"][0]["geometry"]["coordinates"]]
        while isinstance(flat[0], list):
            flat = [value for part in flat for value in part]
        assert max(len(value.split(".")[1]) for value in flat) <= 8


def test_only_works_of_the_record_are_told(folder):
    works = pd.read_csv(folder / "records" / "works.csv")
    assert list(works["kind"]) == ["fire_use"]
