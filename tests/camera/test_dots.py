"""Sticker dots read from pictures: made ones, whose centres are exact, and a rendered clip."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable
from itertools import islice
from pathlib import Path

import numpy as np
import pytest
from made_dots import ANKLE, HIP, KNEE, Ride, centres_px, film, swapped

from posewatch.camera.clip import Clip
from posewatch.camera.dots import DotReader
from posewatch.core.dot_fit import DOT_ROWS, N_DOTS
from posewatch.core.landmark_codec import decode, encode
from posewatch.core.landmarks import LANDMARKS
from posewatch.core.records import FloatArray, Frame, Side
from posewatch.core.sources import TimedPicture
from posewatch.errors import BadInput
from posewatch.pose.recorded import RecordedLandmarks

CLIPS = Path(__file__).parents[2] / "demo_clips"
LEARNED_S = 1.2
STICKER_HEX = "#c832b4"


def read(
    reader: DotReader,
    filmed: Iterable[tuple[TimedPicture, Frame]],
    change: Callable[[Frame], Frame] = lambda frame: frame,
) -> list[Frame]:
    return [reader.read(picture, change(frame)) for picture, frame in filmed]


def errors_px(ride: Ride, frames: list[Frame], from_s: float = LEARNED_S) -> FloatArray:
    """(n, 5, 2) dot minus truth from a time on, NaN where not found."""
    late = [frame for frame in frames if frame.t_ns >= from_s * 1e9]
    rows = LANDMARKS[ride.side][list(DOT_ROWS)]
    return np.array([f.points_px[rows] - centres_px(ride, f.t_ns / 1e9) for f in late])


def require_exact(errors: FloatArray, sd_px: float, bias_px: float, found: float = 0.98) -> None:
    there = np.isfinite(errors[..., 0])
    assert there.mean(axis=0).min() >= found
    assert np.nanstd(errors, axis=0).max() < sd_px
    assert np.abs(np.nanmean(errors, axis=0)).max() < bias_px


@pytest.mark.parametrize(
    ("ride", "seconds"),
    [
        (Ride(25.0, rpm=105.0), 3.0),
        (Ride(), 3.0),
        (Ride(60.0), 2.2),
        (Ride(rpm=60.0), 3.0),
        (Ride(scale=2), 2.0),
        (Ride(faces=-1), 2.5),
    ],
    ids=["25 fps", "30 fps", "60 fps", "60 rpm", "1280 x 960", "from the left"],
)
def test_dots_are_found_to_a_fraction_of_a_pixel(ride: Ride, seconds: float) -> None:
    errors = errors_px(ride, read(DotReader(), film(ride, seconds)))
    require_exact(errors, 0.15, 0.12)


@pytest.mark.parametrize(
    ("ride", "sd_px", "bias_px"),
    [
        (Ride(light=0.35), 0.15, 0.12),
        (Ride(noise=8.0), 0.25, 0.12),
        (Ride(exposure_s=1 / 60), 0.15, 0.15),
        (Ride(exposure_s=1 / 40), 0.35, 0.3),
        (Ride(landmark_noise_px=8.0), 0.15, 0.12),
        (Ride(sticker=(240, 240, 60)), 0.2, 0.15),
    ],
    ids=["dim", "noisy", "smeared over 7 px", "over 11 px", "shaky landmarks", "yellow"],
)
def test_dots_are_found_in_poor_pictures(ride: Ride, sd_px: float, bias_px: float) -> None:
    errors = errors_px(ride, read(DotReader(), film(ride, 2.5)))
    require_exact(errors, sd_px, bias_px, found=0.95)


def test_mixed_up_legs_change_nothing() -> None:
    ride = Ride()

    def mix_up(frame: Frame) -> Frame:
        return swapped(frame) if int(frame.t_ns / 0.4e9) % 3 == 2 else frame

    errors = errors_px(ride, read(DotReader(), film(ride, 4.0), mix_up))
    require_exact(errors, 0.15, 0.12)


def test_a_hidden_dot_is_not_invented_and_taken_up_again() -> None:
    ride = Ride()
    filmed = film(ride, 5.0, hidden=lambda t_s: np.eye(N_DOTS)[HIP] * (2.0 <= t_s < 3.5))
    errors = errors_px(ride, read(DotReader(), filmed), from_s=0.0)
    seen = np.isfinite(errors[..., 0])
    assert not seen[60:105, HIP].any()
    assert seen[107:, HIP].all()
    assert np.delete(seen, HIP, axis=1)[60:105].all()
    assert np.nanmax(np.abs(errors[40:])) < 0.6


def test_a_half_covered_dot_is_not_read() -> None:
    ride = Ride()
    filmed = film(ride, 3.0, hidden=lambda t_s: np.eye(N_DOTS)[KNEE] * (0.5 * (t_s >= 2.0)))
    seen = np.isfinite(errors_px(ride, read(DotReader(), filmed), from_s=0.0)[..., 0])
    assert seen[40:60].all()
    assert seen[60:, KNEE].mean() < 0.1
    assert np.delete(seen, KNEE, axis=1)[60:].all()


def test_all_dots_hidden_at_once_are_told_apart_when_they_come_back() -> None:
    ride = Ride()
    filmed = film(ride, 3.5, hidden=lambda t_s: np.full(N_DOTS, 2.0 <= t_s < 2.5, np.float64))
    errors = errors_px(ride, read(DotReader(), filmed), from_s=2.0)
    assert not np.isfinite(errors[:15]).any()
    require_exact(errors[18:], 0.15, 0.12)


def test_another_light_is_learned_anew() -> None:
    bright, dim = Ride(), Ride(light=0.4)
    filmed = [
        before if before[0].t_ns < 2e9 else after
        for before, after in zip(film(bright, 5.0), film(dim, 5.0), strict=True)
    ]
    require_exact(errors_px(dim, read(DotReader(), filmed), from_s=4.3), 0.15, 0.12)


def test_a_given_colour_is_used_from_the_first_picture() -> None:
    ride = Ride()
    reader = DotReader(STICKER_HEX, Side.RIGHT)
    errors = errors_px(ride, read(reader, film(ride, 1.0)), from_s=0.0)
    require_exact(errors[1:], 0.15, 0.12)


@pytest.mark.parametrize("text", ["pink", "#12345", "c832b4", "#c832bg"])
def test_a_colour_written_otherwise_is_refused(text: str) -> None:
    with pytest.raises(BadInput, match="not a colour"):
        DotReader(text)


def test_only_the_near_side_s_five_rows_are_changed() -> None:
    ride = Ride()
    reader = DotReader()
    rows = LANDMARKS[Side.RIGHT][list(DOT_ROWS)]
    others = np.setdiff1d(np.arange(33), rows)
    for picture, frame in film(ride, 2.0):
        found = reader.read(picture, frame)
        stored = decode(frame.t_ns, encode(frame.points_px, frame.visibility, frame.presence))
        if reader._side is None:
            assert found is frame
            continue
        assert np.array_equal(found.points_px[others], stored.points_px[others])
        assert np.array_equal(found.visibility[others], stored.visibility[others])
        seen = np.isfinite(found.points_px[rows, 0])
        assert np.array_equal(found.visibility[rows], seen)
        assert np.array_equal(found.presence[rows], seen)
        assert seen.any() == (reader.colour is not None)


def test_what_is_read_can_be_stored_exactly() -> None:
    for frame in read(DotReader(STICKER_HEX, Side.RIGHT), film(Ride(), 0.3)):
        again = decode(frame.t_ns, encode(frame.points_px, frame.visibility, frame.presence))
        assert np.array_equal(frame.points_px, again.points_px, equal_nan=True)
        assert np.array_equal(frame.visibility, again.visibility)


def test_a_rider_without_stickers_has_no_dots() -> None:
    ride = Ride(sticker=None)
    reader = DotReader()
    errors = errors_px(ride, read(reader, film(ride, 3.0)))
    assert reader.colour is None
    assert not np.isfinite(errors).any()


def test_nobody_in_the_picture_is_nobody_with_dots() -> None:
    ride = Ride(sticker=None)
    nothing = np.zeros(33)
    reader = DotReader(STICKER_HEX, Side.RIGHT)
    for picture, frame in film(ride, 0.2):
        found = reader.read(
            picture, Frame(frame.t_ns, np.full((33, 2), np.nan), nothing, nothing.copy())
        )
        assert np.isnan(found.points_px).all()
        assert not found.visibility.any()


def test_a_rendered_clip_s_dots_are_where_its_truth_says() -> None:
    seconds = 4
    with (CLIPS / "dots_steady.truth.csv").open() as file:
        rows = list(islice(csv.DictReader(file), seconds * 30))
    names = ("shoulder", "hip", "knee", "ankle", "pedal")
    truth = np.array(
        [[[float(row[f"dot_{name}_{axis}_px"]) for axis in "xy"] for name in names] for row in rows]
    )
    recording = RecordedLandmarks(CLIPS / "landmarks" / "dots_steady.landmarks.npz")
    filmed = zip(Clip(CLIPS / "dots_steady.mp4"), recording, strict=True)
    frames = read(DotReader(), islice(filmed, seconds * 30))
    found = np.array([f.points_px[LANDMARKS[Side.RIGHT][list(DOT_ROWS)]] for f in frames])
    errors = (found - truth)[36:]
    require_exact(errors, 0.35, 0.2)
    assert np.nanstd(errors, axis=0)[[0, HIP, ANKLE]].max() < 0.2
