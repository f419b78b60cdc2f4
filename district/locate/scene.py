"""One leak looked for and where, and how far a record about it can be trusted."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from district.break_rates import Reals
from district.locate.spots import Evidence, Sought, Spots
from district.network import Network
from district.schema.located import EVIDENCE_KINDS
from district.settings import Settings

Z = 1.96
"""Standard deviations from a mean to its 95 % limits."""
_OLD_D = 365
"""What was seen longer ago says nothing of an excess whose start is not known. Assumption."""


@dataclass(frozen=True, eq=False)
class Scene:
    """What every record is weighed against.

    own (S)
        whether a spot is in the zone of the leak sought.
    until
        last day known of.
    others
        leaks looked for in other zones: what is near their border may be of them.
    """

    network: Network
    spots: Spots
    own: Any
    sought: Sought
    settings: Settings
    until: date
    others: tuple[Sought, ...] = ()

    def evidence(self, kind: str, said: str, log_likelihood: Reals) -> Evidence:
        """Evidence of the log-likelihoods at the zone's own spots; 0 at all others."""
        assert kind in EVIDENCE_KINDS
        everywhere = np.zeros(len(self.own))
        everywhere[self.own] = log_likelihood
        return Evidence(self.sought.sought_id, kind, said, everywhere)

    def unused(self, kind: str, said: str) -> Evidence:
        """Evidence that could not count; `said` tells why."""
        nothing = np.zeros(len(self.own))
        return Evidence(self.sought.sought_id, kind, f"{said}, not counted.", nothing, used=False)


def there_share(scene: Scene, day: date, sought: Sought | None = None) -> float:
    """Chance that the leak was there on a day: 0 before the earliest start, 1 from the latest on.

    `sought`: another leak than the scene's. One without a known start was there for the year before
    the last day known of.
    """
    sought = sought or scene.sought
    if sought.start is None:
        return 1.0 if (scene.until - day).days <= _OLD_D else 0.0
    first = sought.start_low or sought.start
    last = sought.start_high or sought.start
    if day < first:
        return 0.0
    if day >= last:
        return 1.0
    days = [d.toordinal() for d in (first, sought.start, last)]
    return float(np.interp(day.toordinal(), days, [0.0, 0.5, 1.0]))


def too_early(scene: Scene) -> str:
    """Why what was seen while `there_share` is 0 does not count."""
    first = scene.sought.start_low or scene.sought.start
    return f"before the leak began ({first} at the earliest)" if first else "more than a year old"


def tempered(log_likelihood: Reals, *, wrong_share: float, there_share: float = 1.0) -> Reals:
    """A log-likelihood that never rules a spot out: of the largest 0 down to a floor.

    `wrong_share`: chance that the record is wrong or of something else; `there_share`: chance
    that the leak was there.
    """
    right = (1 - wrong_share) * there_share
    relative = np.exp(log_likelihood - log_likelihood.max(initial=-np.inf))
    return np.asarray(np.log(right * relative + 1 - right))
