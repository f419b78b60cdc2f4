"""A job holds tables and does nothing else."""

from __future__ import annotations

from dataclasses import FrozenInstanceError

import pytest

from tests.render.sheets import job


def test_a_job_cannot_be_changed_and_is_not_compared_by_its_tables() -> None:
    one = job()
    with pytest.raises(FrozenInstanceError):
        one.zone = "another"  # type: ignore[misc]
    assert one == one
    assert one != job()
