"""Two pose models at one clip: another chain, the same order."""

from __future__ import annotations

from dataclasses import replace

import pytest

from posewatch.core.records import Frame
from posewatch.demo import source
from posewatch.opening import open_frames

pytestmark = pytest.mark.model


def test_two_workers_give_every_frame_in_order_and_say_so_in_the_chain() -> None:
    one = replace(source("hoods_steady", False, "lite", end_s=1.0), workers=2)
    with open_frames(one) as opened:
        frames = [item for item in opened.seen() if isinstance(item, Frame)]
        chain = opened.chain
    times = [frame.t_ns for frame in frames]
    assert len(times) == 30
    assert times == sorted(set(times))
    assert chain.pose_workers == 2
    with open_frames(replace(one, workers=1)) as opened:
        alone = opened.chain
    assert chain.differences(alone) == ("pose_workers: 2 / 1",)
