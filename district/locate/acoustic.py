"""What acoustic loggers tell: nights grew louder near the leak, and not where it is not."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
from scipy.special import logsumexp

from district.break_rates import Reals
from district.hydraulics.noise_loss import LOUD_DB, loss_db_per_m
from district.locate.scene import Scene, tempered
from district.locate.spots import Evidence
from district.network.ways import costs, pipes_in_order, places_at, ways
from district.words import brief, listed, plural

_LOUD_SD_DB = 10.0
_LOSS_FACTORS, _LOSS_WEIGHTS = np.array([0.6, 1.0, 1.6]), np.array([0.25, 0.5, 0.25])
"""How far a pipe's loss may lie from the usual. Assumption."""
_DRIFT_DB = 2.0
"""Standard deviation by which the quiet of a place wanders over weeks. Assumption."""
_MODEL_SHARE = 0.3
"""Standard deviation of a rise as a share of it: tees, bends and depth are not modelled."""
_WRONG_LOGGER, _WRONG = 0.05, 0.02
_WIDE_DB = 60.0
_FEW_NIGHTS = 5
_RECENT_NIGHTS = 56
_DEAF_DB = 45.0
"""A logger beyond this loss of every spot of the zone hears nothing of it."""
_OUT_OF_HEARING_DB = 100.0
"""Beyond this loss not even a loud leak on pipes that carry far is heard."""
_HEARD_DB = 6.0


def acoustic_evidence(scene: Scene, nights: pd.DataFrame) -> list[Evidence]:
    """What all acoustic loggers near the zone say together: one piece of evidence.

    `nights`: table ACOUSTIC_NIGHTS. By logger the lowest level of nights after the leak began
    against that before; the leak's loudness and the loss along the pipes are unknown and taken in,
    a silent logger speaks against pipes beside it. One that is on no pipe of the map is left out.
    """
    sensors, sought = scene.network.sensors, scene.sought
    sensors = sensors[sensors["pipe_id"] != ""]
    heard = nights[nights["device_id"].isin(sensors.index)].dropna(subset="level_db")
    if heard.empty:
        return []
    names = np.unique(heard["device_id"].to_numpy(dtype=str))
    places = places_at(scene.network, sensors.geometry.loc[names].to_numpy())
    loss = ways(scene.network, loss_db_per_m(pipes_in_order(scene.network)["material"]))
    lost = costs(loss, places, scene.spots.pipe[scene.own], scene.spots.share[scene.own])
    near = lost.min(axis=1) <= _DEAF_DB
    if not near.any():
        return []
    names, lost = names[near], lost[near]
    head = f"{plural(len(names), 'acoustic logger')} ({listed(names)})"
    if sought.start is None:
        said = f"{head}: no night is known to be before the leak, to hold the others against"
        return [scene.unused("acoustic", said)]
    first, last = sought.start_low or sought.start, sought.start_high or sought.start
    rises = _rises(heard[heard["device_id"].isin(names)], first, last)
    if rises.empty:
        said = f"{head}: fewer than {_FEW_NIGHTS} nights before {first} or from {last} on"
        return [scene.unused("acoustic", said)]
    lost = lost[np.isin(names, rises.index)]
    likely = _log_likelihood(lost, rises["rise_db"].to_numpy(), rises["sd_db"].to_numpy())
    return [scene.evidence("acoustic", _said(rises, last), tempered(likely, wrong_share=_WRONG))]


def _rises(heard: pd.DataFrame, first: date, last: date) -> pd.DataFrame:
    """By logger rise_db of the median night and its standard deviation, where nights suffice."""
    night = heard["night"].dt.normalize()
    before = heard[night < pd.Timestamp(first)]
    after = heard[night >= pd.Timestamp(last)]
    joined = _recent(before).merge(_recent(after), on="device_id", suffixes=("_before", "_after"))
    joined = joined[(joined["size_before"] >= _FEW_NIGHTS) & (joined["size_after"] >= _FEW_NIGHTS)]
    of_medians = 1.5708 * (
        joined["std_before"] ** 2 / joined["size_before"]
        + joined["std_after"] ** 2 / joined["size_after"]
    )
    rise = joined["median_after"] - joined["median_before"]
    return pd.DataFrame({"rise_db": rise, "sd_db": np.sqrt(of_medians + _DRIFT_DB**2)})


def _recent(nights: pd.DataFrame) -> pd.DataFrame:
    last = nights.sort_values("night").groupby("device_id").tail(_RECENT_NIGHTS)
    return last.groupby("device_id")["level_db"].agg(["median", "std", "size"])


def rise_db(loud_db: Reals, lost_db: Reals) -> Reals:
    """How much a leak raises the level of a logger: powers add.

    Parameters: how far the leak stands above the quiet at its own place, and what is lost on the
    way to the logger.
    """
    return np.asarray(10 * np.log10(1 + 10 ** ((loud_db - lost_db) / 10)))


def _log_likelihood(lost: Reals, rise: Reals, sd: Reals) -> Reals:
    """By spot, from losses (I, S), rises and their deviations (I) of I loggers.

    The leak's loudness and the pipes' loss are the same for all loggers; a logger far from a spot
    stays as quiet as it was, whatever they are.
    """
    steps = np.linspace(-2.4, 2.4, 13)
    loud, factor = np.meshgrid(LOUD_DB + _LOUD_SD_DB * steps, _LOSS_FACTORS)
    weight = np.outer(_LOSS_WEIGHTS, np.exp(-(steps**2) / 2)).ravel()
    loud, factor = loud.reshape(-1, 1), factor.reshape(-1, 1)
    total = np.tile(np.log(weight / weight.sum())[:, None], lost.shape[1])
    for own, rose, wide in zip(lost, rise, sd, strict=True):
        near = np.flatnonzero(own <= _OUT_OF_HEARING_DB)
        # Against a logger that stays quiet, so that spots far from it are left alone.
        total[:, near] += np.log(_density(rose, rise_db(loud, factor * own[near]), wide))
        total[:, near] -= np.log(_density(rose, np.zeros(1), wide))
    return np.asarray(logsumexp(total, axis=0))


def _density(rise: float, expected: Reals, sd: float) -> Reals:
    wide = np.hypot(sd, _MODEL_SHARE * expected)
    right = np.exp(-0.5 * ((rise - expected) / wide) ** 2) / (wide * np.sqrt(2 * np.pi))
    return np.asarray((1 - _WRONG_LOGGER) * right + _WRONG_LOGGER / _WIDE_DB)


def _said(rises: pd.DataFrame, since: date) -> str:
    louder = rises[rises["rise_db"] >= _HEARD_DB].sort_values("rise_db", ascending=False)
    count = plural(len(rises), "acoustic logger")
    if louder.empty:
        return (
            f"None of {count} ({listed(rises.index)}) grew louder by night since {since}: this "
            "speaks against the pipes beside them."
        )
    best, most = louder.index[0], float(louder["rise_db"].iloc[0])
    more = f", and {listed(louder.index[1:])} by less" if len(louder) > 1 else ""
    quiet = len(rises) - len(louder)
    others = f"; the other {quiet} did not" if quiet > 1 else "; the other did not" if quiet else ""
    return (
        f"Of {count}, {best} grew louder by night by {brief(most)} dB since {since}{more}{others}: "
        "this speaks for the pipes near those that did."
    )
