"""The district of the audit: its outer meter alone, and what its zones share."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest

from district.balance import district_balance
from district.settings import Settings


def of(audited: Any, figure: str) -> Any:
    rows = audited.audit
    rows = rows[(rows["cell_id"] == "district") & (rows["figure"] == figure)]
    return rows.set_index("input")


def test_inner_meters_cancel(audited: Any) -> None:
    rows = of(audited, "system input volume")
    assert list(rows.index) == ["", "zone meter M1"]
    assert rows.loc["zone meter M1", "raises"] == pytest.approx(0.02 * 130 * 365)
    assert rows.loc["zone meter M1", "variance_share"] == pytest.approx(1.0)


def test_one_allowance_for_all_zones_adds(audited: Any) -> None:
    rows = of(audited, "billed unmetered consumption")
    home = rows.loc["day use of household properties without a meter"]
    assert home["value"] == pytest.approx(365 * 131 * 0.35)
    assert home["raises"] == pytest.approx(0.4 * 365 * 131 * 0.35)


def test_losses_from_nights_share_as_in_the_zones(audited: Any) -> None:
    name = "real losses, bottom-up from night flows"
    rows = of(audited, name)
    audit = audited.audit
    zones = audit[(audit["figure"] == name) & (audit["cell_id"] != "district")]
    use = zones["input"].str.contains("household")
    total = zones[zones["rank"] == 0].set_index("cell_id")
    side = (total["value"] - total["value_low"]).to_dict()
    weighted = sum(
        row["lowers"] ** 2 / side[row["cell_id"]] for row in zones[use].to_dict("records")
    )
    lowers = rows.loc["night use of household properties without a meter", "lowers"]
    assert lowers == pytest.approx(np.sqrt(weighted * sum(side.values())))


def test_unavoidable_losses_are_the_zones_together(audited: Any) -> None:
    rows = of(audited, "unavoidable losses of the year")
    assert rows.loc["sum of the zones'", "value"] == pytest.approx(
        audited.indicators["unavoidable_losses_m3"].iloc[0]
    )


def test_water_sold_through_an_outlet_is_not_taken_off_the_input_again(
    make_network: Any, make_reduced: Any, day_table: Any, no_works: Any, nights: Any
) -> None:
    edges = make_network().boundaries
    outlet = edges.iloc[[1]].assign(
        meter_id="OUT", upstream_cell_id="South", downstream_cell_id="", role="outlet"
    )
    daily = day_table(nights, {"M1": 230.0, "M2": 150.0, "OUT": 100.0, "B1": 25.0})
    found = district_balance(
        make_network(boundaries=pd.concat([edges, outlet], ignore_index=True)),
        make_reduced(daily_volumes=daily),
        settings=Settings(),
        works=no_works,
        audited=True,
    )
    audit = found.audit[found.audit["figure"] == "system input volume"].set_index("cell_id")
    for area, meter, volume in (("district", "M1", 230.0), ("South", "M2", 150.0)):
        rows = audit.loc[area].set_index("input")
        assert list(rows.index) == ["", f"zone meter {meter}"]
        assert rows.loc["", "value"] == pytest.approx(volume * 365)
        assert rows.loc[f"zone meter {meter}", "operation"] == "+"
    sold = found.audit[found.audit["figure"] == "billed water exported"].set_index("cell_id")
    assert sold.loc["district", "value"].tolist() == pytest.approx([36_500.0] * 2)
    assert sold.loc["district", "source"].iloc[1].startswith("readings; error by")
    assert not np.signbit(sold.loc["North", "value"]).any()
