"""The sections about the balance refuse what no balance can use."""

from __future__ import annotations

from datetime import time

import pytest
from pydantic import ValidationError

from district.balance_settings import Allowance, Night


def test_window_of_an_ordinary_night() -> None:
    assert Night(start=time(1, 30), end=time(4)).window_h() == 2.5


def test_a_window_that_ends_before_it_starts_is_refused() -> None:
    with pytest.raises(ValidationError, match="a window that ends after it starts"):
        Night(start=time(4), end=time(2))


def test_a_class_must_say_its_night_use() -> None:
    with pytest.raises(ValidationError, match="l_property_h"):
        Allowance.model_validate({"spread_share": 0.2})


def test_the_window_is_fixed_unless_said_to_roll() -> None:
    assert Night().window == "fixed"
    assert Night(window="rolling").window == "rolling"
    with pytest.raises(ValidationError, match="'fixed' or 'rolling'"):
        Night.model_validate({"window": "lowest"})


def test_the_lowest_hour_needs_an_hour_to_be_sought_in() -> None:
    assert Night(search_start=time(2, 30), search_end=time(3, 30)).search_end == time(3, 30)
    with pytest.raises(ValidationError, match="an hour or more from search_start to search_end"):
        Night(search_start=time(2), search_end=time(2, 59))
