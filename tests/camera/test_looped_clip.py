"""A clip as a camera that never ends."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from made_clips import write_clip

from posewatch.camera.clip import Clip
from posewatch.camera.looped_clip import LoopedClip
from posewatch.errors import BadInput

N = 6
STEP_NS = 33_333_333


class Clock:
    """Runs ahead of every picture, so that nothing is waited for."""

    def __init__(self) -> None:
        self.t_ns = 0

    def __call__(self) -> int:
        self.t_ns += 10 * STEP_NS
        return self.t_ns


def test_it_begins_again_at_the_end_and_its_times_rise(tmp_path: Path) -> None:
    path = write_clip(tmp_path / "clip.mp4", [round(n * 100 / 3) for n in range(N)])
    plain = [picture.rgb for picture in Clip(path)]
    looped = LoopedClip(path, Clock())
    assert looped.info.rate_hz == pytest.approx(30.0, abs=0.5)
    seen = [looped.read() for _ in range(2 * N + 1)]
    assert None not in seen
    times = [one.t_ns for one in seen if one is not None]
    assert all(later > earlier for earlier, later in pairwise(times))
    for n, one in enumerate(seen):
        assert one is not None
        assert np.array_equal(one.rgb, plain[n % N])
    looped.close()
    looped.close()


def test_pictures_wait_for_their_time_and_closing_ends_the_wait(tmp_path: Path) -> None:
    path = write_clip(tmp_path / "clip.mp4", [0, 60_000, 120_000])
    looped = LoopedClip(path, lambda: 0)
    assert looped.read() is not None
    looped._closed.set()
    assert looped.read() is None


def test_a_clip_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"gone\.mp4"):
        LoopedClip(tmp_path / "gone.mp4", lambda: 0)
