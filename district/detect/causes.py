"""What a rise of a zone likely is: causes weighed by Bayes' rule, with what speaks for each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from district.detect.evidence import Evidence
from district.schema.event_tables import EVENT_CAUSES

PRIOR = {
    "leak": 0.42,
    "growing_leak": 0.2,
    "meter_fault": 0.1,
    "boundary": 0.08,
    "use": 0.15,
    "unknown": 0.05,
}
"""How often a lasting rise of a zone's night flow is what: common practice, no source."""
BUILDING_PRIOR = {"building_flow": 0.65, "use": 0.25, "meter_fault": 0.04, "unknown": 0.06}
"""The same of a building's meter, where people's own use comes more often: likewise."""
LEAKS = ("leak", "growing_leak", "building_flow")
NOT_RULED_OUT = 0.1
"""From this probability of a leak on, an event that is called something else says so and stays to
act on."""
_TELLING = 0.7  # log factor from which a piece of evidence is worth a word
_MOST_SAID = 3
_MOST_TELLING = float(np.log(200.0))
"""No piece of evidence sets one cause before another by more: any record, and any picture of how a
cause looks, may be wrong. Common practice, no source."""


@dataclass(frozen=True)
class Weighed:
    """Probabilities of the causes of one rise, and what speaks for and against each."""

    shares: Mapping[str, float]
    reasons: Mapping[str, str]
    speaking: Mapping[str, str]
    """Only what speaks most for each, '' where nothing does."""

    def leak_share(self) -> float:
        """Probability that it is a leak, of whatever growth."""
        return sum(share for kind, share in self.shares.items() if kind in LEAKS)

    def kind(self) -> str:
        """The likeliest, the kinds of leak counting as one first."""
        others = {k: s for k, s in self.shares.items() if k not in LEAKS}
        leaks = {k: s for k, s in self.shares.items() if k in LEAKS}
        among = leaks if self.leak_share() >= max(others.values()) else others
        return max(among, key=lambda k: among[k])


def weigh(prior: Mapping[str, float], seen: Sequence[Evidence]) -> Weighed:
    """The prior times the factor of each piece of evidence, brought to a sum of one.

    The pieces are taken for independent, and none counts beyond `_MOST_TELLING`. Of each cause
    are told the three that tell most.
    """
    kinds = tuple(prior)
    start = np.array([prior[k] for k in kinds])
    of = {k: "leak" if k == "building_flow" else k for k in kinds}
    logs = np.array([[e.log.get(of[k], 0.0) for k in kinds] for e in seen]).reshape(-1, len(kinds))
    if len(logs):
        logs = np.maximum(logs, logs.max(axis=1, keepdims=True) - _MOST_TELLING)
    total = np.log(start) + logs.sum(axis=0)
    shares = np.exp(total - total.max())
    shares /= shares.sum()
    # Each piece against its mean over causes, as the causes stood before: not all can be favoured.
    apart = logs - (logs @ (start / start.sum()))[:, None]
    texts = [e.text for e in seen]
    sides = {k: _sides(texts, apart[:, i]) for i, k in enumerate(kinds)}
    return Weighed(
        {k: float(s) for k, s in zip(kinds, shares, strict=True)},
        {k: _reason(*both) for k, both in sides.items()},
        {k: " and ".join(both[0][:2]) for k, both in sides.items()},
    )


def causes_table(weighed: Sequence[tuple[str, Weighed]]) -> pd.DataFrame:
    """Table EVENT_CAUSES of events by id, the likeliest cause first."""
    rows: list[dict[str, Any]] = []
    for event_id, one in weighed:
        ordered = sorted(one.shares, key=lambda k: -one.shares[k])
        rows += [
            {
                "event_id": event_id,
                "kind": kind,
                "probability_share": one.shares[kind],
                "reason": one.reasons[kind],
            }
            for kind in ordered
        ]
    return pd.DataFrame(rows, columns=list(EVENT_CAUSES.names()))


def _sides(
    texts: Sequence[str], factors: np.ndarray[Any, np.dtype[np.float64]]
) -> tuple[list[str], list[str]]:
    """What speaks for a cause and what against it, the most telling first."""
    order = np.argsort(-np.abs(factors), kind="stable")[:_MOST_SAID]
    told = [i for i in order if abs(factors[i]) >= _TELLING]
    return [texts[i] for i in told if factors[i] > 0], [texts[i] for i in told if factors[i] < 0]


def _reason(speaking: list[str], against: list[str]) -> str:
    # The second begins a sentence of its own; the first does where it is shown.
    parts = [("for it", speaking), ("Against it" if speaking else "against it", against)]
    told = ". ".join(f"{side}: {'; '.join(texts)}" for side, texts in parts if texts)
    return told or "nothing speaks clearly for or against it"
