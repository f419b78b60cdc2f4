from __future__ import annotations

import pytest

from district.schema.columns import Table
from district.schema.outputs import OUTPUTS


@pytest.mark.parametrize("table", OUTPUTS, ids=lambda t: t.name)
def test_limits_stand_behind_their_estimate(table: Table) -> None:
    names = table.names()
    for n, name in enumerate(names):
        if name.endswith("_low"):
            assert names[n - 1] == name.removesuffix("_low")
            assert names[n + 1] == name.removesuffix("_low") + "_high"
