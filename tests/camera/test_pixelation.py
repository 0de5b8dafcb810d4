"""Of what is hidden, one colour a block is left, and nothing of the rest is touched."""

from __future__ import annotations

import csv
from itertools import islice
from pathlib import Path

import numpy as np
import pytest

from posewatch.camera.clip import Clip
from posewatch.camera.pixelation import pixelate
from posewatch.core import face_region
from posewatch.core.face_region import FaceState, Patch
from posewatch.core.records import Frame
from posewatch.core.sources import Picture
from posewatch.pose.recorded import RecordedLandmarks

CLIPS = Path(__file__).parents[2] / "demo_clips"


def noise(width: int = 96, height: int = 72, seed: int = 1) -> Picture:
    return np.random.default_rng(seed).integers(0, 256, (height, width, 3)).astype(np.uint8)


def blocks(patch: Patch) -> list[tuple[slice, slice]]:
    """The blocks of a patch, as rows and columns of the picture."""
    side = patch.block_px
    return [
        (slice(y, min(y + side, patch.bottom)), slice(x, min(x + side, patch.right)))
        for y in range(patch.top, patch.bottom, side)
        for x in range(patch.left, patch.right, side)
    ]


def test_whole_blocks_become_their_mean_and_all_else_stays() -> None:
    before, patch = noise(), Patch(8, 16, 72, 64, 8)
    after = before.copy()
    pixelate(after, [patch])
    for rows, columns in blocks(patch):
        mean = before[rows, columns].reshape(-1, 3).mean(axis=0)
        assert after[rows, columns] == pytest.approx(np.broadcast_to(mean, (8, 8, 3)), abs=0.51)
    outside = np.ones(before.shape[:2], bool)
    outside[16:64, 8:72] = False
    assert np.array_equal(after[outside], before[outside])


@pytest.mark.parametrize(
    "patch", [Patch(0, 0, 61, 43, 15), Patch(50, 30, 96, 72, 7), Patch(0, 0, 96, 72, 100)]
)
def test_one_colour_a_block_is_all_that_is_left(patch: Patch) -> None:
    """The last blocks of a row or column are narrower, and of one colour as well."""
    after = noise()
    pixelate(after, [patch])
    colours = set()
    for rows, columns in blocks(patch):
        found = {tuple(colour) for colour in after[rows, columns].reshape(-1, 3).tolist()}
        assert len(found) == 1
        colours |= found
    hidden = after[patch.top : patch.bottom, patch.left : patch.right]
    assert len(np.unique(hidden.reshape(-1, 3), axis=0)) <= len(blocks(patch))
    assert colours


def test_what_differs_only_within_blocks_cannot_be_told_apart_afterwards() -> None:
    """Two faces whose blocks have the same means: nothing can bring back which it was."""
    one = noise()
    other = one.copy()
    patch = Patch(0, 0, 96, 72, 12)
    for rows, columns in blocks(patch):
        other[rows, columns] = other[rows, columns][::-1, ::-1]
    assert not np.array_equal(one, other)
    pixelate(one, [patch])
    pixelate(other, [patch])
    assert np.array_equal(one, other)


def test_patches_over_each_other_hide_both() -> None:
    after = noise()
    wide, small = Patch(0, 0, 96, 72, 24), Patch(24, 24, 48, 48, 6)
    pixelate(after, [small, wide])
    assert len(np.unique(after.reshape(-1, 3), axis=0)) <= 12


@pytest.mark.parametrize("name", ["hoods_steady", "drops_steady", "left_side_steady"])
def test_the_demo_riders_whole_face_is_hidden(name: str) -> None:
    """By the pictures themselves: skin above the exact shoulder is head and neck."""
    recorded = RecordedLandmarks(CLIPS / "landmarks" / f"{name}.landmarks.npz")
    with (CLIPS / f"{name}.truth.csv").open(encoding="utf-8") as file:
        shoulders = [float(row["shoulder_y_px"]) for row in csv.DictReader(file)]
    state, n_skin = FaceState(), 0
    frames = (item for item in recorded if isinstance(item, Frame))
    pictures = zip(Clip(CLIPS / f"{name}.mp4"), frames, shoulders, strict=False)
    for picture, frame, shoulder_y_px in islice(pictures, 30):
        height, width = picture.rgb.shape[:2]
        state, (patch,) = face_region.step(state, frame, width, height)
        red, green, blue = np.moveaxis(picture.rgb[: int(shoulder_y_px) - 5].astype(int), -1, 0)
        rows, columns = np.nonzero((red - blue > 45) & (red - green > 15))
        n_skin += len(rows)
        assert patch.left <= columns.min() - 8
        assert columns.max() + 8 <= patch.right
        assert patch.top <= rows.min() - 8
    assert n_skin > 30 * 1000
