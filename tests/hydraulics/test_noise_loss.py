"""Tests of `district.hydraulics.noise_loss`."""

from __future__ import annotations

from district.hydraulics.noise_loss import LOSS_DB_PER_M, loss_db_per_m
from district.schema.inputs import MATERIALS


def test_every_material_loses_some() -> None:
    assert (loss_db_per_m(list(MATERIALS)) > 0).all()


def test_plastic_loses_most_and_what_is_not_known_lies_between() -> None:
    # The order is common practice, no source.
    metal, plastic, unknown = loss_db_per_m(["cast_iron", "pvc", "wood"])
    assert metal < unknown < plastic
    assert set(LOSS_DB_PER_M) == set(MATERIALS) - {"unknown"}
