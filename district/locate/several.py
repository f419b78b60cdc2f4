"""Several leaks of one zone: which of them a record is about, and what is then left to explain."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from district.break_rates import Reals
from district.locate.posterior import spread
from district.locate.spots import Evidence, Sought
from district.locate.walk import Walk
from district.schema.located import EVIDENCE_KINDS

ABOUT_ONE = ("correlator", "acoustic", "wet_floor", "sighting")
"""Records of a sound or of water: of one leak, though nobody knows which."""


def in_order(evidence: Sequence[Evidence]) -> list[Evidence]:
    """Evidence by kind, then as given."""
    return sorted(evidence, key=lambda e: EVIDENCE_KINDS.index(e.kind))


def told_apart(
    leaks: Sequence[Sought],
    evidence: Mapping[str, Sequence[Evidence]],
    log_prior: Reals,
    walk: Walk,
) -> dict[str, list[Evidence]]:
    """Evidence of each leak of a zone, each record weighed by how likely it is about that leak.

    Parameters: `evidence` by sought_id; `log_prior` (n) as in `spread`. Records are taken in turn.
    Each is about one of the leaks, with a chance in proportion to their flows and to how well it
    fits what is known of each so far; so what the first leak explains is hardly counted for the
    second. For a leak it is not about, a record says nothing. (Association by probability as in
    tracking: Bar-Shalom & Tse 1975, Automatica 11(5) 451, from memory.)
    """
    kept = {
        s.sought_id: [e for e in in_order(evidence[s.sought_id]) if not _shared(e)] for s in leaks
    }
    records: dict[tuple[str, str], dict[str, Evidence]] = {}
    for s in leaks:
        for e in in_order(evidence[s.sought_id]):
            if _shared(e):
                records.setdefault((e.kind, e.said), {})[s.sought_id] = e
    flow = {s.sought_id: max(s.flow_l_s, 1e-9) for s in leaks}
    prior = np.exp(log_prior - log_prior.max())
    for about in records.values():
        if len(about) == 1:
            ((name, only),) = about.items()
            kept[name].append(only)
            continue
        fit, scaled = {}, {}
        for name, e in about.items():
            likelihood = np.exp(e.log_likelihood[walk.spot] - e.log_likelihood[walk.spot].max())
            # Up to a constant of its own: scaled to 1 where nothing but the prior is known.
            scaled[name] = likelihood / np.average(likelihood, weights=prior)
            known = spread(log_prior, kept[name], walk).probability
            fit[name] = flow[name] * float(scaled[name] @ known)
        total = sum(fit.values())
        for name, e in about.items():
            mixed = np.zeros_like(e.log_likelihood)
            mixed[walk.spot] = np.log1p(fit[name] / total * (scaled[name] - 1))
            kept[name].append(replace(e, log_likelihood=mixed))
    return {name: in_order(each) for name, each in kept.items()}


def _shared(evidence: Evidence) -> bool:
    return evidence.used and evidence.kind in ABOUT_ONE
