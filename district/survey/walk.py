"""The whole walk: rounds over the pieces to search, what to do on them, and what it rests on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import geopandas as gpd
import pandas as pd

from district.errors import Finding, InputError
from district.network import Network
from district.results import Basis
from district.schema.survey_tables import SURVEY_CAUTION
from district.settings import Settings
from district.survey.fittings import fittings_of
from district.survey.ground import ground_of_pipes, ground_of_streets
from district.survey.leg_rows import legs_table, paths_table, rounds_table, shifts_table
from district.survey.legs import legs_of, shifts_of
from district.survey.pieces import Piece, cut_where_ways_meet, meetings, pieces_of
from district.survey.point_rows import points_of, points_table
from district.survey.rounds import round_of
from district.survey.set_up_rows import set_ups_table
from district.survey.set_ups import hearing_of
from district.survey.starts import depot_in_metres, starts_of
from district.survey.words import basis_of, walk_in_words
from district.words import closest, listed

COMMAND_LINE = "command line"


@dataclass(frozen=True, eq=False)
class SurveyWalk:
    """The walk: tables SURVEY_LEGS, SURVEY_PATHS, LISTENING_POINTS, SET_UPS (with geometry, in the
    network's CRS), SURVEY_SHIFTS and SURVEY_ROUNDS of `schema.survey_tables`.

    said
        the walk in sentences.
    basis
        what it rests on, and what limits it.
    caution
        to be shown wherever any of it is.
    """

    legs: gpd.GeoDataFrame
    paths: gpd.GeoDataFrame
    points: gpd.GeoDataFrame
    set_ups: gpd.GeoDataFrame
    shifts: pd.DataFrame
    rounds: pd.DataFrame
    said: tuple[str, ...]
    basis: Basis
    caution: str = SURVEY_CAUTION


def survey_walk(
    network: Network,
    stretches: pd.DataFrame,
    likelihood: pd.DataFrame,
    *,
    settings: Settings,
    streets: gpd.GeoDataFrame | None = None,
    zones: Sequence[str] = (),
    depot_deg: Sequence[float] = (),
    shift_h: float | None = None,
) -> SurveyWalk:
    """The shortest walk found over the pieces of stretches to search, in shifts.

    Parameters: tables STRETCHES and LIKELIHOOD; `streets` input table STREETS in the network's CRS,
    else the crew walks along the pipes; `zones` ids or names of those to walk, all where empty;
    `depot_deg` longitude and latitude, else those of the settings, else each zone is a round of its
    own that begins near its inlet meter; `shift_h` hours of a shift, else those of the settings.
    Raises `InputError` for a zone or a depot that is none. Nothing is written to.
    """
    asked = settings.survey
    chosen = stretches[stretches["cell_id"].isin(_zones(network, zones))]
    depot = None
    if depot_deg or asked.depot_deg:
        source = COMMAND_LINE if depot_deg else "district.toml"
        depot = depot_in_metres(network, depot_deg or asked.depot_deg, source=source)
    fittings = fittings_of(network, near_m=settings.locate.connection_snap_m)
    whole = pieces_of(network, chosen, likelihood)
    cut = cut_where_ways_meet(whole, meetings(network))
    flow = chosen.set_index("stretch_id")["flow_l_s"].astype(float).fillna(0.0)
    ground = ground_of_pipes(network)
    if streets is not None and len(streets):
        ground = ground_of_streets(streets, tolerance_m=settings.snap_tolerance_m)
    points = points_of(whole, fittings, asked)

    def flow_l_s(piece: Piece) -> float:
        return float(flow[piece.line.stretch_id]) * piece.probability_share

    def piece_min(piece: Piece) -> float:
        walk = piece.length_m / (asked.search_km_h * 1000 / 60)
        return walk + asked.listen_min * len(points.on(piece))

    starts = starts_of(network, cut, [flow_l_s(p) for p in cut], depot)
    hours = asked.shift_h if shift_h is None else shift_h
    rounds = [
        round_of(
            ground,
            cut,
            start,
            flow_l_s=flow_l_s,
            piece_min=piece_min,
            m_min=asked.walk_km_h * 1000 / 60,
            shift_min=60 * hours,
        )
        for start in starts
    ]
    shifts = shifts_of(rounds)
    legs = legs_of(shifts)
    in_set = chosen[chosen["in_set"].fillna(False).astype(bool)]
    looked_for = float(in_set.groupby("cell_id")["flow_l_s"].max().sum())
    crs = network.pipes.crs
    set_ups, bare = set_ups_table(network, hearing_of(network, fittings), whole, legs, chosen)
    table = legs_table(legs, chosen, points.on, looked_for_l_s=looked_for, crs=crs)
    by_shift = shifts_table(shifts, legs, points.on, looked_for_l_s=looked_for)
    by_order = rounds_table(rounds)
    return SurveyWalk(
        legs=table,
        paths=paths_table(legs, crs),
        points=points_table(legs, points, fittings, crs),
        set_ups=set_ups,
        shifts=by_shift,
        rounds=by_order,
        said=walk_in_words(table, by_shift, by_order, depot=depot is not None),
        basis=basis_of(
            table,
            by_shift,
            bare,
            settings,
            shift_h=hours,
            by=ground.by,
            off_m=max((each.laid.off_m for each in rounds), default=0.0),
        ),
    )


def _zones(network: Network, asked: Sequence[str]) -> list[str]:
    """The cell_ids of zones asked for by id or name; all where none is asked for."""
    names = network.cells["name"]
    if not asked:
        return [str(cell) for cell in names.index]
    known = {str(name): str(cell) for cell, name in names.items()}
    known |= {cell: cell for cell in known.values()}
    strange = [zone for zone in asked if zone not in known]
    if strange:
        raise InputError(
            [
                Finding(
                    "error",
                    COMMAND_LINE,
                    "",
                    "zone",
                    f'"{zone}", which is no zone' + closest(zone, known),
                    f"id or name of a zone such as {listed(known)}",
                    "Correct the name",
                )
                for zone in strange
            ]
        )
    return [known[zone] for zone in asked]
