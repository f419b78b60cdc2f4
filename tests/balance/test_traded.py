"""Water that crosses the edge of the district."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.balance.metering import metering
from district.balance.traded import bought, exporting, supplied
from district.balance.volumes import daily_volumes
from district.settings import Settings


@pytest.fixture
def outlet(make_network: Any) -> Any:
    edges = make_network().boundaries
    more = edges.iloc[[1, 1]].assign(
        meter_id=["X", "Y"],
        upstream_cell_id=["South", ""],
        downstream_cell_id=["", "North"],
        role="outlet",
    )
    return make_network(boundaries=pd.concat([edges, more], ignore_index=True))


def parts_of(network: Any, reduced: Any, **annual: Any) -> Any:
    settings = Settings(annual=annual)
    layout = metering(network)
    volumes = daily_volumes(network, layout, reduced.daily_volumes, settings=settings)
    counted = np.isfinite(volumes.inflow_m3)
    known = counted.any(axis=0)
    return (
        layout,
        supplied(network, layout, volumes, counted=counted, known=known),
        bought(layout, volumes, counted=counted, known=known, settings=settings),
    )


def test_only_outlets_with_nothing_beyond_export(outlet: Any) -> None:
    layout = metering(outlet)
    assert list(layout.meters) == ["M1", "M2", "X", "Y"]
    assert list(exporting(outlet, layout.meters)) == [False, False, True, True]


def test_an_outlet_that_runs_inwards_is_input(
    outlet: Any, make_reduced: Any, day_table: Any, nights: Any
) -> None:
    daily = day_table(nights, {"M1": 130.0, "M2": 50.0, "X": 20.0, "Y": 5.0})
    _, (each, whole), _ = parts_of(outlet, make_reduced(daily_volumes=daily))
    assert each["billed_exported"].value == pytest.approx([0.0, 20.0])
    assert each["system_input"].value == pytest.approx([130 - 50 + 5.0, 50.0])
    assert float(whole["system_input"].value) == pytest.approx(135.0)
    assert float(whole["billed_exported"].value) == pytest.approx(20.0)
    half = float(whole["system_input"].high - whole["system_input"].value)
    assert half == pytest.approx(np.hypot(0.02 * 130, 0.02 * 5))


def test_nothing_is_imported_unless_told(make_network: Any, make_reduced: Any) -> None:
    *_, (found, said) = parts_of(make_network(), make_reduced())
    assert found is None
    assert said == ()


def test_an_inner_meter_imports_nothing(make_network: Any, make_reduced: Any) -> None:
    *_, (found, said) = parts_of(make_network(), make_reduced(), imported_meters=["M2"])
    assert float(found.value[0]) == 0.0
    assert "M2 brings no water over the edge" in said[0]
    *_, (found, said) = parts_of(make_network(), make_reduced(), imported_meters=["M1"])
    assert float(found.value[0]) == pytest.approx(130.0)
    assert float(found.high[0]) == pytest.approx(130.0 * 1.02)
    assert said == ()
