from __future__ import annotations

import pandas as pd
import pytest

from district.cli import layout, tables


def test_the_devices_that_lack_most_come_first(capsys: pytest.CaptureFixture[str]) -> None:
    quality = pd.DataFrame(
        {
            "device_id": ["whole", "gaps", "spikes", "quarterly"],
            "source": ["a.csv", "b.csv", "c.csv", "d.csv"],
            "expected_count": [900, 900, 900, 5],
            "missing_share": [0.0, 0.12, float("nan"), 0.25],
            "unusable_share": [0.0, 0.0, 0.003, 0.0],
        }
    )
    layout.show(tables.devices_table(quality))
    lines = [line.split() for line in capsys.readouterr().out.splitlines() if line]
    assert lines[0] == ["Readings", "lost,", "worst", "first"]
    assert lines[-2:] == [["gaps", "b.csv", "12.0", "0"], ["spikes", "c.csv", "-", "0.3"]]
    assert tables.devices_table(quality.iloc[:1]).row_count == 0
