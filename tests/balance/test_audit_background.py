"""Background and unavoidable losses by component, against the balance's own functions."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from district.balance import unavoidable_losses_l_d
from district.balance.audit_background import background_figure, unavoidable_figure
from district.balance.audit_rows import worked_out
from district.balance.background import background_limits
from district.balance.effects import limits_of
from district.estimates import estimate
from district.settings import Settings


def test_the_condition_factor_and_pressure_by_one_at_a_time(make_network: Any) -> None:
    network, settings = make_network(), Settings()
    cells = network.cells.index[1:]
    metres = estimate([42.0, 30.0], [40.0, 20.0], [44.0, 40.0])
    shown = background_limits(network, cells=cells, pressure=metres, background=settings.background)
    figure, trace = background_figure(network.cells.reindex(cells), shown, settings)
    np.testing.assert_allclose(worked_out(figure.rows, 2), shown.value)
    np.testing.assert_allclose(limits_of(trace), shown)
    b = settings.background
    fixed = b.model_copy(
        update=dict.fromkeys(("condition_factor_low", "condition_factor_high"), b.condition_factor)
    )
    alone = background_limits(network, cells=cells, pressure=metres, background=fixed)
    np.testing.assert_allclose(trace.effects["pressure"][0], alone.value - alone.low)
    np.testing.assert_allclose(trace.effects["pressure"][1], alone.high - alone.value)
    still = background_limits(network, cells=cells, pressure=estimate(metres.value), background=b)
    np.testing.assert_allclose(trace.effects["condition"][1], still.high - still.value)


def test_unavoidable_losses_add_by_component(make_network: Any) -> None:
    sizes = make_network().cells.iloc[1:]
    metres = estimate([42.0, 30.0], [40.0, 20.0], [44.0, 40.0])
    figure, trace = unavoidable_figure(sizes, metres, name="least", days_count=365.0)
    by_hand = unavoidable_losses_l_d(4.0, connections_count=4, private_km=0.2, pressure_m=42.0)
    assert figure.shown.value[0] == pytest.approx(by_hand * 0.365)
    np.testing.assert_allclose(worked_out(figure.rows, 2), figure.shown.value)
    assert trace.effects["pressure"][0][1] == pytest.approx(figure.shown.value[1] / 3)
    assert figure.rows["mains"].input[0] == "4.00 km of mains at 18 L/day/m"
