from __future__ import annotations

from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd
import pytest
from shapely.geometry import Point

from district.intake import read_layers
from district.results import Inputs
from district.schema.columns import check
from district.schema.inputs import METERS, SENSORS
from district.settings import Settings


def layer(table: Any, rows: list[dict[str, Any]]) -> gpd.GeoDataFrame:
    """A checked point layer of the given rows."""
    frame = gpd.GeoDataFrame(rows, geometry=[Point(0, 0)] * len(rows), crs="EPSG:32632")
    tidy, findings = check(table, frame, source=table.name)
    assert not findings
    return tidy


@pytest.fixture
def inputs_of(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """Inputs that hold nothing but the given meters and sensors."""
    bare = read_layers(Path(tmp_path_factory.mktemp("bare")), Settings())

    def make(meters: list[dict[str, Any]], sensors: list[dict[str, Any]] | None = None) -> Inputs:
        tables = {n: getattr(bare, n) for n in ("pipes", "valves", "zones", "connections")}
        return Inputs(
            **tables,
            sources=bare.sources,
            meters=layer(METERS, meters) if meters else bare.meters,
            sensors=layer(SENSORS, sensors) if sensors else bare.sensors,
            works=bare.works,
            breaks=bare.breaks,
            defaults=pd.DataFrame(),
            files={"meters": "meters.gpkg", "sensors": "sensors.gpkg"},
        )

    return make
