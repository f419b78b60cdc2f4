from __future__ import annotations

import numpy as np
import pytest

from district.store.rolling import Bins, bins_count, empty_bins, lay, lowest_of

MINUTE = 60_000_000
HOUR = 60 * MINUTE


def whole(*numbers: float) -> np.ndarray:
    return np.array(numbers, dtype=np.int64)


def laid(bins: Bins, rows: list[tuple[int, int, float, float, float]]) -> Bins:
    """Rows of side, night, start and end in minutes, and volume."""
    side, night, start, end, volume = (np.array(c) for c in zip(*rows, strict=True))
    minutes = [(c * MINUTE).astype(np.int64) for c in (start, end)]
    lay(bins, side=side, night=night, start=minutes[0], end=minutes[1], volume=volume)
    return bins


def lowest(bins: Bins, signs: list[float], firsts: list[int]) -> list[tuple[float, ...]]:
    found = lowest_of(
        bins, slice(0, len(signs)), signs=np.array(signs), firsts=whole(*firsts), whole_share=0.99
    )
    return [(int(c), int(n), float(v), s / MINUTE) for c, n, v, s in zip(*found, strict=True)]


def test_an_interval_is_shared_out_by_overlap_and_cut_at_the_ends() -> None:
    bins = empty_bins(whole(15 * MINUTE), whole(HOUR))
    # From 20 minutes before to 20 after; over two edges; beyond the end.
    laid(bins, [(0, 0, -20, 20, 4.0), (0, 0, 20, 50, 3.0), (0, 0, 50, 80, 3.0)])
    assert bins.volume_m3.tolist() == pytest.approx([1.5, 0.5 + 1.0, 1.5, 0.5 + 1.0])
    assert (bins.covered_us / MINUTE).tolist() == [15, 15, 15, 15]


def test_sides_of_their_own_step_and_nights_of_their_own_length() -> None:
    steps, lengths = whole(30 * MINUTE, HOUR), whole(2 * HOUR, HOUR)
    assert bins_count(steps, lengths).tolist() == [8, 4]
    bins = empty_bins(steps, lengths)
    laid(bins, [(0, 0, 90, 120, 1.0), (0, 1, 30, 60, 2.0), (1, 1, 0, 60, 3.0)])
    # The second night has half as many; what would be its later bins stays empty.
    laid(bins, [(0, 1, 60, 90, 9.0), (1, 1, 60, 120, 9.0)])
    assert bins.volume_m3.tolist() == [0, 0, 0, 1, 0, 2, 0, 0, 0, 0, 3, 0]


def test_the_lowest_hour_of_net_flow() -> None:
    bins = empty_bins(whole(30 * MINUTE, 30 * MINUTE), whole(2 * HOUR))
    into, out_of = [5.0, 2.0, 2.5, 4.0], [1.0, 1.0, 0.0, 0.5]
    rows = [(0, 0, 30.0 * k, 30.0 * k + 30, v) for k, v in enumerate(into)]
    rows += [(1, 0, 30.0 * k, 30.0 * k + 30, v) for k, v in enumerate(out_of)]
    assert lowest(laid(bins, rows), [1, -1], [0]) == [(0, 0, 3.5, 30)]
    assert lowest(bins, [1, 1], [0, 1]) == [(0, 0, 4.5, 30), (1, 0, 0.5, 60)]


def test_of_equal_hours_the_earliest_in_spite_of_rounding() -> None:
    bins = empty_bins(whole(20 * MINUTE), whole(2 * HOUR))
    flows = [0.1, 0.2, 0.3, 0.1, 0.2, 0.3]
    laid(bins, [(0, 0, 20.0 * k, 20.0 * k + 20, v) for k, v in enumerate(flows)])
    assert lowest(bins, [1], [0]) == [(0, 0, pytest.approx(0.6), 0)]


def test_a_night_with_a_hole_or_shorter_than_an_hour_is_left_out() -> None:
    bins = empty_bins(whole(30 * MINUTE), whole(HOUR, HOUR, 30 * MINUTE))
    laid(bins, [(0, 0, 0, 30, 1.0), (0, 0, 31, 60, 1.0), (0, 1, 0, 60, 1.0), (0, 2, 0, 30, 1.0)])
    assert lowest(bins, [1], [0]) == [(0, 1, 1.0, 0)]
    assert lowest(empty_bins(whole(30 * MINUTE), whole(30 * MINUTE)), [1], [0]) == []


def test_a_shorter_night_does_not_look_beyond_its_end() -> None:
    bins = empty_bins(whole(30 * MINUTE), whole(2 * HOUR, HOUR))
    laid(bins, [(0, n, 30.0 * k, 30.0 * k + 30, 2.0) for n in (0, 1) for k in range(4 - 2 * n)])
    assert lowest(bins, [1], [0]) == [(0, 0, 4.0, 0), (0, 1, 4.0, 0)]
