from __future__ import annotations

from district.schema.outputs import OUTPUTS
from district.schema.reconciled import METER_CHECKS, RECONCILED, ZONE_CHECKS


def test_the_tables_are_handed_out_with_the_other_results() -> None:
    assert set(RECONCILED) <= set(OUTPUTS)


def test_every_verdict_has_its_reason_beside_it() -> None:
    for table in (METER_CHECKS, ZONE_CHECKS):
        assert table["verdict"].choices
        assert {"statistic_index", "critical_index", "reason", "act"} <= set(table.names())
