"""Tests of `district.hydraulics.head_loss`."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from district.hydraulics import Kind, Model
from district.hydraulics.head_loss import LEAST_SLOPE, head_lost, losses_of
from tests.hydraulics.networks import network

NOTHING = [np.nan] * 3


def one_of_each(formula: str = "hazen_williams") -> Model:
    """A pipe, a pipe with a bend, a check valve with a loss, a valve with none, a pump."""
    rough = 120.0 if formula == "hazen_williams" else 0.3
    return network(
        {0: 50.0}, [0.0] * 6, [(i, i + 1) for i in range(5)],
        kind=[Kind.PIPE, Kind.PIPE, Kind.CHECK, Kind.REDUCING, Kind.PUMP],
        length_m=[200.0, 200.0, 0.0, 0.0, 0.0], diameter_mm=[100.0, 100.0, 100.0, 100.0, np.nan],
        roughness=rough, minor_k=[0.0, 10.0, 10.0, 0.0, 0.0],
        pump=[*[NOTHING] * 4, [40.0, 0.05, 2.0]], formula=formula,
    )  # fmt: skip


def test_each_link_loses_what_its_formula_says() -> None:
    flow = np.full(5, 8.0)
    lost = head_lost(losses_of(one_of_each()), flow).head_m
    pipe = 10.667 * 200.0 * 0.008**1.852 / (120.0**1.852 * 0.1**4.871)
    speed = 0.008 / (np.pi / 4 * 0.1**2)
    bend = 10.0 * speed**2 / (2 * 9.80665)
    valve = LEAST_SLOPE * 8.0
    assert lost == pytest.approx(
        [pipe, pipe + bend, bend + valve, valve, 0.05 * 64.0 - 40.0 + valve]
    )


def test_a_laminar_pipe_loses_as_hagen_and_poiseuille_say() -> None:
    """h = 128 nu L Q / (pi g D^4), Hagen-Poiseuille."""
    model = one_of_each("darcy_weisbach")
    lost = head_lost(losses_of(model), np.full(5, 0.05)).head_m[0]
    right = 128 * model.viscosity_m2_s * 200.0 * 0.00005 / (np.pi * 9.80665 * 0.1**4)
    assert lost == pytest.approx(right)


@pytest.mark.parametrize("formula", ["hazen_williams", "darcy_weisbach"])
@pytest.mark.parametrize("flow", [-9.0, -0.3, 0.0, 1e-4, 0.2, 0.35, 12.0])
def test_slopes_are_those_of_finite_differences(formula: str, flow: float) -> None:
    losses = losses_of(one_of_each(formula))
    step = 1e-6
    low, high = (head_lost(losses, np.full(5, flow + s)).head_m for s in (-step, step))
    here = head_lost(losses, np.full(5, flow))
    assert here.slope == pytest.approx((high - low) / 2 / step, rel=1e-4, abs=1e-8)
    assert (here.slope > 0).all()


@pytest.mark.parametrize("formula", ["hazen_williams", "darcy_weisbach"])
def test_roughness_moves_what_pipes_lose_and_nothing_else(formula: str) -> None:
    model, flow, step = one_of_each(formula), np.full(5, -6.0), 1e-6
    low, high = (
        head_lost(losses_of(replace(model, roughness=model.roughness * np.exp(s))), flow).head_m
        for s in (-step, step)
    )
    found = head_lost(losses_of(model), flow).by_log_roughness
    assert found == pytest.approx((high - low) / 2 / step, rel=1e-5, abs=1e-6)
    assert (found[2:] == 0).all()


def test_a_pump_that_lifts_the_same_at_any_flow_has_a_slope() -> None:
    model = network(
        {0: 50.0}, [0.0, 0.0], [(0, 1)], kind=Kind.PUMP, diameter_mm=np.nan,
        pump=[[30.0, 0.0, 1.0]],
    )  # fmt: skip
    lost = head_lost(losses_of(model), np.array([10.0]))
    assert lost.head_m == pytest.approx([-30.0], abs=1e-4)
    assert lost.slope == pytest.approx([LEAST_SLOPE])
