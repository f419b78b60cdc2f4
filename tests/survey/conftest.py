"""One walk on the ladder, made once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pytest

from district.network import Network
from district.settings import Settings
from district.survey import SurveyWalk, survey_walk
from district.survey.fittings import Fittings, fittings_of
from district.survey.pieces import Piece, pieces_of
from district.survey.set_ups import Hearing, hearing_of
from tests.survey.scenes import Told, ladder, location

TOLD: dict[str, Told] = {
    "B": (0.4, None, None),
    "R2": (0.2, None, None),
    "G": (0.3, 20.0, 80.0),
    "E": (0.05, None, None),
    "Q": (0.05, None, None),
}


@dataclass(frozen=True, eq=False)
class Scene:
    """A network, its tables of location, its pieces, fittings and how sound runs in it."""

    network: Network
    stretches: Any
    likelihood: Any
    pieces: dict[str, Piece]
    fittings: Fittings
    hearing: Hearing

    def walk(self, **asked: Any) -> SurveyWalk:
        """The walk over it."""
        given = {"settings": Settings(), **asked}
        return survey_walk(self.network, self.stretches, self.likelihood, **given)


def scene_of(network: Network, told: dict[str, Told]) -> Scene:
    stretches, likelihood = location(network, told)
    fittings = fittings_of(network, near_m=60.0)
    return Scene(
        network,
        stretches,
        likelihood,
        {p.line.stretch_id: p for p in pieces_of(network, stretches, likelihood)},
        fittings,
        hearing_of(network, fittings),
    )


@pytest.fixture(scope="session")
def scene() -> Scene:
    """The ladder."""
    return scene_of(ladder(), TOLD)


@pytest.fixture(scope="session")
def walk(scene: Scene) -> SurveyWalk:
    """Its walk."""
    return scene.walk()
