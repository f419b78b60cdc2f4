"""Tests of `district.hydraulics.model`."""

from __future__ import annotations

from district.hydraulics import Kind


def test_kinds_are_the_numbers_that_models_hold() -> None:
    assert [int(k) for k in Kind] == [0, 1, 2, 3]
