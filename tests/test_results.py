"""Results are frozen, and compare by identity: tables have no single truth value."""

from __future__ import annotations

import dataclasses

import pytest

from district import results

CLASSES = [c for c in vars(results).values() if dataclasses.is_dataclass(c)]


@pytest.mark.parametrize("cls", CLASSES, ids=lambda c: c.__name__)
def test_every_result_is_frozen(cls: type) -> None:
    assert cls.__dataclass_params__.frozen  # type: ignore[attr-defined]
    tables = [f for f in dataclasses.fields(cls) if "DataFrame" in str(f.type)]
    if tables:
        assert not cls.__dataclass_params__.eq  # type: ignore[attr-defined]
    assert cls.__doc__
