"""Rights-free pictures of something else, run through the pose model: nobody rides there.

Where the pictures come from: tests/data/no_rider/README.md.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from posewatch.camera.still_pictures import read_still
from posewatch.capturing import capture_target
from posewatch.core import pipeline
from posewatch.core.capture import Subject
from posewatch.core.envelope import Target
from posewatch.core.judge import Task
from posewatch.core.records import Frame
from posewatch.core.sources import Picture, TimedPicture
from posewatch.core.watch_plan import WatchPlan
from posewatch.pose.bundles import load_bundle
from posewatch.pose.landmarker import Landmarker
from posewatch.watched_source import Source

pytestmark = pytest.mark.model

PICTURES = sorted((Path(__file__).parents[1] / "data" / "no_rider").glob("*.png"))
LANDMARKS = Path(__file__).parents[2] / "demo_clips" / "landmarks"
N_FRAMES = 60


@pytest.fixture(scope="module")
def target() -> Target:
    """A target in px: nothing is disbelieved for want of a calibrated camera."""
    source = Source(LANDMARKS / "hoods_reference.landmarks.npz", "full")
    return capture_target([source], Subject("r", "b", "hoods"), lambda *_: None)


def on_the_move(rgb: Picture, n: int) -> Picture:
    """Cut 640 x 480 out of a picture repeated in all directions, swaying as a hand-held camera."""
    sway_x, sway_y = round(12 * np.sin(n / 4.0)), round(8 * np.cos(n / 5.0))
    rows = (np.arange(480) + sway_y + rgb.shape[0]) % rgb.shape[0]
    columns = (np.arange(640) + sway_x + rgb.shape[1]) % rgb.shape[1]
    return np.ascontiguousarray(rgb[rows][:, columns])


def found_in(rgb: Picture) -> list[Frame]:
    landmarker = Landmarker(load_bundle("full"))
    try:
        return [
            landmarker.detect(TimedPicture(n * 33_333_333, on_the_move(rgb, n)))
            for n in range(N_FRAMES)
        ]
    finally:
        landmarker.close()


@pytest.mark.parametrize("path", PICTURES, ids=lambda path: path.stem)
def test_nothing_is_counted_and_nobody_is_believed(path: Path, target: Target) -> None:
    task = Task(target, WatchPlan(sit_in_s=0.0))
    state = pipeline.start(task, target.chain, None)
    for frame in found_in(read_still(path)):
        state, _ = pipeline.step(task, state, frame)
        assert state.last is not None
        assert not state.last.body.seen
    assert pipeline.finish(state)[0].judge.tally.n_strokes == 0


def test_there_are_pictures() -> None:
    assert len(PICTURES) == 3
