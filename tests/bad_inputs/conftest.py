from __future__ import annotations

from pathlib import Path

import pytest

from tests.bad_inputs.small_folder import make_folder


@pytest.fixture
def small_folder(tmp_path: Path) -> Path:
    return make_folder(tmp_path / "small")
