"""Sticker dots read from the shipped clips, against the stickers' exact places in their tables."""

from __future__ import annotations

import csv
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from itertools import islice
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from posewatch.camera.clip import Clip
from posewatch.camera.dots import DotReader
from posewatch.core.dots import DOT_ROWS
from posewatch.core.landmarks import LANDMARKS
from posewatch.core.records import FloatArray, Frame, Side
from posewatch.core.sources import Picture, TimedPicture
from posewatch.errors import BadInput
from posewatch.pose.recorded import RecordedLandmarks

CLIPS = Path(__file__).parents[2] / "demo_clips"
DOTS = ("shoulder", "hip", "knee", "ankle", "pedal")
HIP, KNEE, PEDAL = 1, 2, 4
ROWS = LANDMARKS[Side.RIGHT][list(DOT_ROWS)]
#: The colour is learned over a second; from here on dots are asked for.
LEARNED = 33
N_FRAMES = 96

Change = Callable[[int, Picture], Picture]


@cache
def ride(clip: str) -> list[tuple[TimedPicture, Frame]]:
    pictures = Clip(CLIPS / f"{clip}.mp4")
    frames = RecordedLandmarks(CLIPS / "landmarks" / f"{clip}.landmarks.npz")
    try:
        return list(islice(zip(pictures, frames, strict=False), N_FRAMES))
    finally:
        pictures.close()


@cache
def exact(clip: str) -> FloatArray:
    """(n, 5, 2) image px of the stickers' centres."""
    with (CLIPS / f"{clip}.truth.csv").open(newline="", encoding="utf-8") as file:
        rows = list(islice(csv.DictReader(file), N_FRAMES))
    return np.array(
        [[[float(row[f"dot_{dot}_{axis}_px"]) for axis in "xy"] for dot in DOTS] for row in rows]
    )


def read(
    clip: str,
    change: Change = lambda n, rgb: rgb,
    frames: Callable[[Frame], Frame] = lambda frame: frame,
    reader: DotReader | None = None,
) -> FloatArray:
    """(n, 5, 2) image px of the dots as read, NaN where not found."""
    reader = DotReader() if reader is None else reader
    found = []
    for n, (picture, frame) in enumerate(ride(clip)):
        seen = TimedPicture(picture.t_ns, np.ascontiguousarray(change(n, picture.rgb)))
        dotted = reader.read(seen, frames(frame))
        points = np.where(dotted.visibility[ROWS, None] > 0, dotted.points_px[ROWS], np.nan)
        found.append(points)
    return np.array(found)


def errors(clip: str, found: FloatArray) -> FloatArray:
    return (found - exact(clip))[LEARNED:]


def darker(n: int, rgb: Picture) -> Picture:
    return (0.45 * rgb).astype(np.uint8)


def noisy(n: int, rgb: Picture) -> Picture:
    grain = np.random.default_rng(n).normal(0.0, 4.0, rgb.shape)
    return np.clip(rgb + grain, 0, 255).astype(np.uint8)


@pytest.mark.parametrize(
    "change", [lambda n, rgb: rgb, darker, noisy], ids=["plain", "dim", "noise"]
)
@pytest.mark.parametrize("clip", ["dots_steady", "kit_patterned_shorts"])
def test_every_dot_is_found_where_it_is(clip: str, change: Change) -> None:
    off = errors(clip, read(clip, change))
    assert np.mean(np.isfinite(off[..., 0]), axis=0).min() >= 0.98
    # The image's zero is the outer corner of the first pixel: half a pixel off would show here.
    assert np.abs(np.nanmean(off, axis=0)).max() < 0.3
    assert np.nanstd(off, axis=0).max() < 0.5


def test_left_and_right_of_the_model_swapped_change_nothing() -> None:
    both = np.stack((LANDMARKS[Side.LEFT], LANDMARKS[Side.RIGHT]))

    def swapped(frame: Frame) -> Frame:
        if (frame.t_ns // 200_000_000) % 2:
            return frame
        points = frame.points_px.copy()
        points[both.ravel()] = frame.points_px[both[::-1].ravel()]
        return replace(frame, points_px=points)

    found = read("dots_steady", frames=swapped, reader=DotReader(side=Side.RIGHT))
    off = errors("dots_steady", found)
    assert np.mean(np.isfinite(off[..., 0])) >= 0.98
    assert np.nanmax(np.abs(off)) < 1.5


def test_a_covered_dot_is_not_invented_and_is_taken_up_again() -> None:
    place = exact("dots_steady")[:, KNEE]
    hidden = range(50, 65)

    def covered(n: int, rgb: Picture) -> Picture:
        if n not in hidden:
            return rgb
        x, y = place[n].astype(int)
        painted: NDArray[np.uint8] = rgb.copy()
        painted[y - 8 : y + 9, x - 8 : x + 9] = (180, 130, 100)
        return painted

    found = read("dots_steady", covered)
    assert np.isnan(found[list(hidden), KNEE]).all()
    assert np.isfinite(found[66:, KNEE]).all()
    others = [dot for dot in range(len(DOTS)) if dot != KNEE]
    assert np.mean(np.isfinite(found[LEARNED:, others, 0])) >= 0.98
    assert np.nanmax(np.abs(errors("dots_steady", found))) < 1.5


def test_a_rider_without_dots_has_none() -> None:
    reader = DotReader()
    for picture, frame in ride("hoods_steady"):
        dotted = reader.read(picture, frame)
        if picture.t_ns > 2_000_000_000:
            assert not dotted.visibility[ROWS].any()


def test_a_colour_can_be_given_and_must_be_one() -> None:
    off = errors("dots_steady", read("dots_steady", reader=DotReader("#ff2fb0", Side.RIGHT)))
    assert np.mean(np.isfinite(off[..., 0])) >= 0.98
    with pytest.raises(BadInput, match="'pink' is not a colour"):
        DotReader("pink")
