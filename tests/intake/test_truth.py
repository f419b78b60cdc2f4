from __future__ import annotations

from pathlib import Path

import pytest

from district.errors import InputError
from district.intake import read_truth

TRUTH = "what,id,zone_id,start_local,flow_l_s,shape\nleak,L1,V1,2025-07-09T01:30,1.2,sudden\n"
NIGHTS = "zone_id,night,leakage_l_s,affected\nV1,2025-07-09,1.5,false\n"


def test_both_tables_are_read(tmp_path: Path) -> None:
    (tmp_path / "truth.csv").write_text(TRUTH)
    (tmp_path / "truth_nights.csv").write_text(NIGHTS)
    truth, nights = read_truth(tmp_path)
    assert truth.loc[0, "flow_l_s"] == 1.2
    assert nights["affected"].dtype == bool
    assert nights.loc[0, "night"].day == 9


def test_a_folder_without_truth_is_told_in_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        read_truth(tmp_path)
    assert caught.value.lines() == (
        "truth.csv: got no such file, expected what was seeded, as 'district simulate' writes it. "
        "Score a simulated district.",
    )


def test_a_broken_truth_is_told(tmp_path: Path) -> None:
    (tmp_path / "truth.csv").write_text("")
    with pytest.raises(InputError, match="an empty file"):
        read_truth(tmp_path)
    (tmp_path / "truth.csv").write_text(TRUTH)
    (tmp_path / "truth_nights.csv").write_text(NIGHTS.replace("false", "maybe"))
    with pytest.raises(InputError, match='got "maybe"'):
        read_truth(tmp_path)
