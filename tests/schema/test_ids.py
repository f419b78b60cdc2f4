"""Tests of `district.schema.ids`."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from district.schema.ids import held

KNOWN = ["M2", "M3", "7"]


@pytest.mark.parametrize("kind", ["str", "object", "category"])
def test_the_same_as_pandas_tells(kind: str) -> None:
    ids = pd.Series(["M1", "M2", None, "M3", "M2", "", "m2", "7"], index=range(8, 0, -1))
    ids = ids.astype(kind)
    found = held(ids, KNOWN)
    assert found.dtype == bool
    assert found.tolist() == [False, True, False, True, True, False, False, True]
    # pandas itself is the reference; the order of what is known plays no part.
    np.testing.assert_array_equal(found, ids.isin(KNOWN))
    np.testing.assert_array_equal(held(ids, iter(KNOWN[::-1])), found)


def test_of_an_index_and_of_nothing() -> None:
    assert held(pd.Index(["A", "B"]), pd.Index(["B"])).tolist() == [False, True]
    assert held(pd.Index([]), KNOWN).tolist() == []
    assert held(pd.Series(["A"]), []).tolist() == [False]
