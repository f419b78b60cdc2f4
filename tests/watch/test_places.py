from __future__ import annotations

import pytest

from district.opening import Opened, open_folder
from district.schema.event_tables import WATCHED
from district.schema.outputs import NIGHTS
from district.watch import watched_places
from tests.bad_inputs.small_folder import make_folder
from tests.watch.rows import of


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Opened:
    return open_folder(make_folder(tmp_path_factory.mktemp("places") / "small"))


def test_every_zone_meter_and_sensor_has_its_name(small: Opened) -> None:
    nights = of(NIGHTS, {"cell_id": "A", "night": "2025-03-11"})
    found = watched_places(small.network, nights, small.reduced.quality)
    assert tuple(found.columns) == WATCHED.names()
    by_id = found.set_index("place_id")
    assert by_id.loc["A", "place"] == "zone Upper"
    assert by_id.loc["MB", "place"] == "meter MB"
    assert by_id.loc["WF1", "place"] == "sensor WF1"
    assert by_id["judged"][["A", "B", "MA", "WF1"]].tolist() == [True, False, True, True]


def test_a_meter_between_zones_is_needed_for_both(small: Opened) -> None:
    found = watched_places(small.network, of(NIGHTS), small.reduced.quality)
    blinds = found.set_index("place_id")["blinds"]
    assert blinds["MA"] == "Upper"
    assert blinds["MB"] == "Lower and Upper"
    assert blinds["CM1"] == blinds["WF1"] == blinds["A"] == ""
    assert found.set_index("place_id").loc["MB", "cell_id"] == "B"
