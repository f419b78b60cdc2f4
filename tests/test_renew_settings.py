"""The section about renewal refuses what no plan can use."""

from __future__ import annotations

from datetime import date

import pytest
from pydantic import ValidationError

from district.renew_settings import SURFACES, Renew, Surface, surfaces
from district.schema.inputs import SURFACE_KINDS


def test_every_kind_of_surface_has_its_usual_figures() -> None:
    assert set(SURFACES) == set(SURFACE_KINDS)


def test_a_kind_set_takes_the_place_of_the_usual_one() -> None:
    said = surfaces({"road": Surface(damage_currency=7.0)})
    assert said["road"].damage_currency == 7.0
    assert said["building"] == SURFACES["building"]


def test_an_unknown_kind_of_surface_is_refused() -> None:
    with pytest.raises(ValueError, match=r'surfaces of main_road, .*, not "lawn"'):
        surfaces({"lawn": Surface()})


@pytest.mark.parametrize("said", [(date(2010, 1, 1), date(2001, 1, 1)), (date(2010, 1, 1),)])
def test_a_record_that_does_not_end_after_it_begins_is_refused(said: tuple[date, ...]) -> None:
    with pytest.raises(ValidationError, match="a first and a later last day"):
        Renew(record_dates=said)


def test_days_of_the_record_may_be_written_as_text() -> None:
    assert Renew(record_dates=["2001-01-01", "2025-12-31"]).record_dates == (
        date(2001, 1, 1),
        date(2025, 12, 31),
    )
    for odd in ("2001-01-01", ["2001", "2025"], [2001, 2025], 2001):
        with pytest.raises(ValidationError, match="a first and a later last day such as"):
            Renew(record_dates=odd)
