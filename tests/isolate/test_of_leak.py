"""The segments a leak may lie in, on a small town typed by hand."""

from __future__ import annotations

import pandas as pd
import pytest

from district.errors import InputError
from district.isolate import leak_segments, segment_losses
from tests.isolate.towns import cut, town


def tables(
    network: object, share: dict[str, float], sought: dict[str, str]
) -> tuple[pd.DataFrame, pd.DataFrame]:
    pipes = network.pipes  # type: ignore[attr-defined]
    by_part = pipes["layer_pipe_id"].map(share).fillna(0.0)
    by_part = (
        by_part * pipes["length_m"] / pipes.groupby("layer_pipe_id")["length_m"].transform("sum")
    )
    likelihood = pd.DataFrame(
        {
            "pipe_id": pipes.index,
            "stretch_id": pipes["layer_pipe_id"].to_numpy(),
            "cell_id": "Z",
            "probability_share": by_part.to_numpy(),
        }
    )
    stretches = pd.DataFrame({"stretch_id": sorted(set(pipes["layer_pipe_id"])), "cell_id": "Z"})
    stretches["sought_ids"] = stretches["stretch_id"].map(sought).fillna("")
    return likelihood, stretches


def test_probability_is_summed_by_segment_and_the_likeliest_is_first() -> None:
    network = town()
    segments = cut(network)
    told = tables(network, {"P3": 0.7, "P7": 0.3}, {"P3": "E1", "P7": "E1"})
    found = leak_segments(network, segments, *told, sought_id="E1")
    # V3 stands 10 m into P3, V7 10 m into P7: each leaves a tenth on the near side.
    assert found["probability_share"].tolist() == pytest.approx([0.7 * 0.9 + 0.3 * 0.1, 0.27, 0.07])
    assert found["probability_share"].sum() == pytest.approx(1.0)
    # What lies behind V7 is fed through V3 alone: it is dry anyway, so V7 may stay open.
    assert found.loc[0, "valves"] == "V3"
    worst = segment_losses(segments).set_index("segment_id")
    for row in found.itertuples():
        assert row.dry_properties_count == worst.loc[row.segment_id, "dry_properties_count"]


def test_of_two_leaks_in_a_zone_each_has_the_stretches_walked_for_it() -> None:
    network = town()
    told = tables(network, {"P5": 0.5, "P7": 0.5}, {"P5": "E1", "P7": "E2"})
    found = leak_segments(network, cut(network), *told, sought_id="E2")
    assert set(found["pipes"]) == {"P7"}
    assert leak_segments(network, cut(network), *told, sought_id="E3").empty


def test_a_stuck_valve_is_shut_for_no_segment_and_what_lies_behind_it_is_dry_too() -> None:
    """Worked by hand: past V7, which does not close, P7 is shut off with P3, by V3 alone."""
    network = town()
    told = tables(network, {"P3": 0.4, "P7": 0.6}, {"P3": "E1", "P7": "E1"})
    sound = leak_segments(network, cut(network), *told, sought_id="E1").set_index("segment_id")
    found = leak_segments(network, cut(network), *told, sought_id="E1", stuck=["V7"])
    assert not found["valves"].str.contains("V7").any()
    stuck = found.set_index("segment_id")
    behind = sound.index[sound["valves"] == "V7"][0]
    assert sound.loc[behind, "dry_properties_count"] == 32
    assert stuck.loc[behind, "valves"] == "V3"
    assert stuck.loc[behind, "dry_properties_count"] == 36
    with pytest.raises(InputError, match="V99"):
        leak_segments(network, cut(network), *told, sought_id="E1", stuck=["V99"])
