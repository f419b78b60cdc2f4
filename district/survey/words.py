"""The walk in sentences, and what it rests on."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from district.hydraulics.noise_loss import LOSS_DB_PER_M, LOUD_DB
from district.results import Basis
from district.settings import Settings
from district.words import brief, listed, percent, plural, whole

_OFF_M = 50.0
"""A pipe farther from every street is told of: some of the layer may be missing. Assumption."""


def distance(length_m: float) -> str:
    """A length in words, no finer than a map tells it.

    >>> distance(86.4), distance(1834.0)
    ('86 m', '1.8 km')
    """
    return f"{whole(length_m)} m" if length_m < 999.5 else f"{brief(length_m / 1000)} km"


def walk_in_words(
    legs: pd.DataFrame, shifts: pd.DataFrame, rounds: pd.DataFrame, *, depot: bool
) -> tuple[str, ...]:
    """What the walk is, and what other orders would cost. Parameters: tables SURVEY_LEGS,
    SURVEY_SHIFTS, SURVEY_ROUNDS; `depot` whether one was told."""
    if legs.empty:
        return ("There is nothing to walk: no leak is looked for in these zones.",)
    stretches = legs["stretch_id"].nunique()
    said = [
        f"{plural(len(shifts), 'shift')} on foot, about {brief(shifts['work_h'].sum())} h: "
        f"{distance(shifts['searched_m'].sum())} to search on "
        f"{plural(stretches, 'stretch', 'stretches')}, {distance(shifts['walked_m'].sum())} to "
        "walk to them, between and back.",
        f"It passes {percent(legs['cumulative_share'].iloc[-1], decimals=0)} of the flow looked "
        "for, if the leaks are where the figures say.",
    ]
    if rounds["cell_ids"].nunique() == 1:
        by = rounds.set_index("order")
        more_m = float(by.loc["soonest", "walked_m"] - by.loc["shortest", "walked_m"])
        said.append(
            f"The leak is passed after {brief(by.loc['shortest', 'found_h'])} h of work in the "
            f"mean; in the order that finds it soonest after {brief(by.loc['soonest', 'found_h'])} "
            f"h, for {distance(max(more_m, 0.0))} more to walk."
        )
    if not depot:
        said.append(
            "No depot is told, so each zone is a round of its own and begins near its inlet meter."
        )
    return tuple(said)


def basis_of(
    legs: pd.DataFrame,
    shifts: pd.DataFrame,
    bare: Sequence[tuple[str, float, float]],
    settings: Settings,
    *,
    shift_h: float,
    by: str,
    off_m: float = 0.0,
) -> Basis:
    """What the walk rests on, and what limits it. Parameters: tables SURVEY_LEGS, SURVEY_SHIFTS;
    `bare` what no two fittings enclose; `by` what the crew walks along, `off_m` how far a piece is
    from that at most."""
    asked = settings.survey
    assumed = (
        f"Paces are assumptions ([survey] of district.toml): {asked.walk_km_h:g} km/h between "
        f"pieces, {asked.search_km_h:g} km/h along them, {asked.listen_min:g} min at each "
        f"listening point, shifts of {shift_h:g} h on foot. Hours are no better than these.",
        "A crew walks along "
        + (
            "the pipes as drawn, other zones' too, as no layer of streets is given."
            if by == "pipes"
            else "the layer of streets, and along the pieces themselves."
        ),
        "The round is the shortest that was found, not one proved shortest.",
        f"Listening points are {asked.listen_apart_m:g} m apart at most, "
        f"{asked.listen_apart_plastic_m:g} m on plastic and unknown material: assumptions.",
        "Sensors of a correlator may be as far apart as a usual leak's noise reaches: "
        f"{LOUD_DB / LOSS_DB_PER_M['cast_iron']:.0f} m of cast iron, "
        f"{LOUD_DB / LOSS_DB_PER_M['pvc']:.0f} m of PVC (common practice, no source). Speeds of "
        "sound are by material, with their spread; measure it on the spot where you can.",
        "Sounding wants pressure, at least 21 m of it (Thornton, Sturm & Kunkel 2008, p. 268); "
        "correlate three times or more, the leak near mid-span.",
    )
    limits = []
    if off_m > _OFF_M:
        limits.append(
            f"A piece lies up to {distance(off_m)} from every street of the layer: the walk to it "
            "from there is a straight line. Complete the layer."
        )
    straight = legs[legs["there_by"].eq("straight") & legs["there_m"].gt(0)]
    if len(straight):
        number = straight["stretch_id"].nunique()
        limits.append(
            f"No line of the map leads to {plural(number, 'stretch', 'stretches')} "
            f"({listed(straight['stretch_id'])}): the walk there is a straight line, and longer "
            "on the ground."
        )
    over = shifts[~shifts["fits"].astype(bool)]
    if len(over):
        limits.append(
            f"{plural(len(over), 'shift')} ({listed(over['shift'])}) longer than {shift_h:g} h: "
            "the way there and back leaves too little. Drive, or name a nearer depot."
        )
    if bare:
        limits.append(
            f"On {plural(len({b[0] for b in bare}), 'stretch', 'stretches')} "
            f"({listed(b[0] for b in bare)}) {distance(sum(b[2] - b[1] for b in bare))} lie "
            "between no two fittings of the map: search there by ground microphone."
        )
    return Basis(assumptions=assumed, limits=tuple(limits))
