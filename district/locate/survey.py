"""Stretches that were searched already: what it says that nothing was found there, or something."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from scipy.special import ndtr, ndtri

from district.break_rates import Reals
from district.locate.correlator import correlated_pipes
from district.locate.pooling import Wholes
from district.locate.scene import Scene, tempered, there_share, too_early
from district.locate.spots import Evidence
from district.network.ways import metres_along, pipes_in_order
from district.words import brief, listed, missing, percent, plural, spelled

_SOFT = ("pvc", "polyethylene", "grp", "unknown")
"""Materials on which a survey is counted as on plastic."""
DETECTION: dict[str, tuple[float, float]] = {
    "listening": (0.7, 0.4),
    "ground_microphone": (0.75, 0.5),
    "correlator": (0.8, 0.5),
    "walk": (0.2, 0.2),
}
"""Chance that a survey finds a leak it passes, on metal and cement and on plastic. Common practice,
no source."""
_MOST = 0.95
"""No survey finds more: a crew may have been on another pipe."""
_LOUDNESS = 1.0
"""How much of what decides whether a leak is heard belongs to the leak, and is the same at the next
survey: as much as to the day. Assumption."""
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(15)
_WRONG = 0.15
"""Chance that what was found is another leak than the one sought. Assumption."""


def survey_evidence(
    scene: Scene, surveys: pd.DataFrame, correlations: pd.DataFrame
) -> list[Evidence]:
    """What the surveys of the zone's pipes say: one piece of evidence for all that found nothing,
    one a date for what was found, one for those before the leak.

    `surveys`, `correlations`: input tables SURVEYS, CORRELATIONS. A leak missed once is more likely
    to be missed again. One found by the correlator on a pipe whose correlation of that day counts
    is that correlation once more.
    """
    pipes = pipes_in_order(scene.network)
    home = pipes.loc[pipes["cell_id"] == scene.sought.cell_id, "layer_pipe_id"]
    here = surveys[surveys["pipe_id"].isin(set(home)) & surveys["date"].notna()]
    if here.empty:
        return []
    here = here.assign(there=[there_share(scene, d) for d in here["date"].dt.date])
    early, late = here[here["there"] == 0], here[here["there"] > 0]
    told = []
    nothing = late[~late["found"].astype(bool)]
    if len(nothing):
        told.append(_nothing(scene, nothing))
    found = late.drop(nothing.index)
    by_correlator = found["method"] == "correlator"
    if by_correlator.any():
        same = correlated_pipes(scene, correlations[correlations["date"].isin(found["date"])])
        day_and_pipe = zip(found["date"].dt.date, found["pipe_id"], strict=True)
        again = by_correlator & np.array([each in same for each in day_and_pipe])
        told += [_again(scene, rows) for _, rows in found[again].groupby("date")]
        found = found[~again]
    told += [_something(scene, rows) for _, rows in found.groupby("date")]
    if len(early):
        said = f"Survey of {_pipes(early)} on {_dates(early)}: {too_early(scene)}"
        told.append(scene.unused("survey", said))
    return told


def _passes(scene: Scene, surveys: pd.DataFrame) -> list[tuple[Wholes, Reals]]:
    """For each survey which of the zone's spots it passed, and its chance to find a leak there."""
    pipes, spots = pipes_in_order(scene.network), scene.spots
    pipe, share = spots.pipe[scene.own], spots.share[scene.own]
    part_m = pipes["length_m"].to_numpy(dtype=float)
    along_m = metres_along(scene.network)[pipe] + share * part_m[pipe]
    soft = pipes["material"].isin(_SOFT).to_numpy()[pipe]
    name = pd.Series(pipes["layer_pipe_id"].to_numpy()[pipe])
    on_pipe = name.groupby(name).indices
    passes = []
    for row in surveys.itertuples(index=False):
        first = 0.0 if missing(row.from_m) else float(row.from_m)
        last = np.inf if missing(row.to_m) else float(row.to_m)
        whole = np.asarray(on_pipe.get(row.pipe_id, []), dtype=np.int64)
        within = (along_m[whole] >= min(first, last)) & (along_m[whole] <= max(first, last))
        here = whole[within]
        hard_share, soft_share = DETECTION[row.method]
        usual = np.where(soft[here], soft_share, hard_share)
        finds = usual if missing(row.detection_share) else np.full(len(here), row.detection_share)
        passes.append((here, np.minimum(finds, _MOST) * row.there))
    return passes


def _nothing(scene: Scene, surveys: pd.DataFrame) -> Evidence:
    passes = _passes(scene, surveys)
    missed = missed_share(passes, int(scene.own.sum()))
    head = f"Nothing found by {_methods(surveys)} on {_pipes(surveys)} on {_dates(surveys)}"
    reached = np.unique(np.concatenate([here for here, _ in passes]))
    if not len(reached):
        return scene.unused("survey", f"{head}: no stretch of the map from from_m to to_m")
    length_m = scene.spots.length_m[scene.own][reached]
    found = percent(1 - float(np.average(missed[reached], weights=length_m)), decimals=0)
    said = f"{head}, {_long(length_m.sum())}: a leak there would have shown in {found} of cases."
    return scene.evidence("survey", said, np.log(missed))


def missed_share(passes: Sequence[tuple[Wholes, Reals]], count: int) -> Reals:
    """Chance that no survey finds a leak at each of `count` spots.

    `passes`: by survey the spots it passed and its chance to find a leak at each, by itself. A
    quiet leak stays quiet: half of what decides is the leak's own, so that two surveys miss it
    more often than two that know nothing of each other would.
    """
    missed = np.ones((len(_NODES), count))
    for here, chance in passes:
        limit = ndtri(np.clip(1 - chance, 1e-12, 1 - 1e-12)) * np.hypot(1.0, _LOUDNESS)
        missed[:, here] *= ndtr(limit - _LOUDNESS * _NODES[:, None])
    passed = np.unique(np.concatenate([here for here, _ in passes]))
    share = np.ones(count)
    share[passed] = np.average(missed[:, passed], axis=0, weights=_WEIGHTS)
    return share


def _again(scene: Scene, surveys: pd.DataFrame) -> Evidence:
    return scene.unused("survey", f"{_found(surveys)}: the correlation of that day says it already")


def _found(surveys: pd.DataFrame) -> str:
    return f"Leak found by {_methods(surveys)} on {_pipes(surveys)} on {_dates(surveys)}"


def _something(scene: Scene, surveys: pd.DataFrame) -> Evidence:
    reached = np.concatenate([here for here, _ in _passes(scene, surveys)])
    head = _found(surveys)
    if not len(reached):
        return scene.unused("survey", f"{head}: no stretch of the map from from_m to to_m")
    there = np.full(int(scene.own.sum()), -np.inf)
    there[reached] = 0.0
    share = float(surveys["there"].mean())
    likely = tempered(there, wrong_share=_WRONG, there_share=share)
    return scene.evidence("survey", f"{head}: this speaks for that stretch.", likely)


def _long(length_m: float) -> str:
    return f"{length_m:.0f} m" if length_m < 999.5 else f"{brief(length_m / 1000)} km"


def _methods(surveys: pd.DataFrame) -> str:
    return listed(spelled(m) for m in surveys["method"].unique())


def _pipes(surveys: pd.DataFrame) -> str:
    names = surveys["pipe_id"].unique()
    return f"pipe {names[0]}" if len(names) == 1 else plural(len(names), "pipe")


def _dates(surveys: pd.DataFrame) -> str:
    return listed(f"{d:%Y-%m-%d}" for d in surveys["date"].unique())
