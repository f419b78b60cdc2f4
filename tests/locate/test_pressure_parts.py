"""The noise's shapes against a zone of two nodes worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from district.locate.pressure_parts import DRAW_L_S, USE_SHARE, variation
from tests.hydraulics.known_zone import known_zone


def test_every_shape_is_a_covariance() -> None:
    known = known_zone(1, loggers=3)
    nodes = len(known.drawn.model.node_id)
    sensitivity = np.random.default_rng(2).normal(size=(4, 3, nodes))
    use = np.full((4, nodes), 0.1)
    for part in variation(known.drawn, known.demands, sensitivity, use):
        assert part.shape.shape == (12, 12)
        assert part.shape == pytest.approx(part.shape.T)
        assert np.linalg.eigvalsh(part.shape).min() > -1e-9 * part.shape.max()
        assert part.usual > 0


def test_use_moved_within_the_zone_is_felt_by_difference() -> None:
    """Where every node moves the loggers alike, who draws makes no difference."""
    known = known_zone(1, loggers=3)
    nodes = len(known.drawn.model.node_id)
    alike = np.full((4, 3, nodes), -0.5)
    use = known.demands.use.toarray()
    parts = variation(known.drawn, known.demands, alike, np.repeat(5.0 * use, 4, axis=0))
    by_use = [p for p in parts if p.usual in (DRAW_L_S, USE_SHARE**2)]
    assert len(by_use) == 2
    assert max(np.abs(p.shape).max() for p in by_use) < 1e-12
