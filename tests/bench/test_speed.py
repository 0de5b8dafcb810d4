"""The speed table, with blocks so short that only its making is tested, not the figures."""

from __future__ import annotations

from pathlib import Path

import pytest

from posewatch.bench import speed
from posewatch.store.settings import Settings

pytestmark = pytest.mark.model


def test_both_loops_run_side_by_side_and_every_figure_is_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, value in {
        "BLOCK_FRAMES": 5,
        "WARM_UP_FRAMES": 2,
        "LIVE_S": 0.5,
        "ENGINE_ROUNDS": 1,
    }.items():
        monkeypatch.setattr(speed, name, value)
    blocks: list[None] = []
    settings = Settings(data_folder=tmp_path, model="lite")
    rows = speed.measure_speed(settings, 2, lambda: blocks.append(None))
    assert len(blocks) == 4
    figures = {row.what: row.figure for row in rows}
    assert len(figures) == len(rows) == 15
    assert float(figures["whole chain / bare loop, median of pairs"]) > 0
    assert float(figures["bare loop, among the pairs"].split()[0]) > 0
    assert float(figures["bare loop, right after the live watch"].split()[0]) > 0
    assert float(figures["pure engine step, mean"].split()[0]) > 0
    assert list(tmp_path.iterdir()) == [], "its sessions are not the user's"
