"""What every source of pictures promises."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from made_clips import turn_display_matrix, write_clip

from posewatch.camera.clip import Clip
from posewatch.core.sources import PictureSource

MakeSource = Callable[[], PictureSource]


@pytest.fixture(params=["clip", "variable rate clip", "rotated clip"])
def make(request: pytest.FixtureRequest, tmp_path: Path) -> MakeSource:
    steady = [round(number * 100 / 3) for number in range(12)]
    times = [0, 20, 90, 110, 300, 333] if request.param == "variable rate clip" else steady
    path = write_clip(tmp_path / "clip.mp4", times)
    if request.param == "rotated clip":
        turn_display_matrix(path, 90)
    return lambda: Clip(path)


def test_times_begin_at_zero_and_rise(make: MakeSource) -> None:
    source = make()
    times = [picture.t_ns for picture in source]
    source.close()
    assert times[0] == 0
    assert all(isinstance(t_ns, int) for t_ns in times)
    assert all(later > earlier for earlier, later in pairwise(times))


def test_pictures_are_as_the_info_says(make: MakeSource) -> None:
    source = make()
    pictures = list(source)
    info = source.info
    assert info.name
    assert len(pictures) == info.n_frames
    for picture in pictures:
        assert picture.rgb.shape == (info.height_px, info.width_px, 3)
        assert picture.rgb.dtype == np.uint8
        assert picture.rgb.flags.c_contiguous
    steps_ns = np.diff([picture.t_ns for picture in pictures])
    assert info.rate_hz == pytest.approx(1e9 / np.median(steps_ns))


def test_pictures_do_not_share_memory(make: MakeSource) -> None:
    first, second, *_ = make()
    assert not np.shares_memory(first.rgb, second.rgb)


def test_closing_twice_is_harmless(make: MakeSource) -> None:
    source = make()
    next(iter(source))
    source.close()
    source.close()
