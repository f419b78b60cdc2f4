"""Tests of `district.schema.located`."""

from __future__ import annotations

from district.schema.located import LOCATED


def test_every_estimate_has_its_limits() -> None:
    for table in LOCATED:
        names = table.names()
        assert all(f"{n[:-4]}_high" in names for n in names if n.endswith("_low"))
