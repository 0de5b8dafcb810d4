"""Sharpness along kept patches."""

from __future__ import annotations

import numpy as np
import pytest
from made_views import Picture, blurred, lit, noisy

from posewatch.camera.sharpness import detail_kept, detail_share
from posewatch.core.view_motion import Background

TOPS = np.array([(60 * i + 20, 50 * j + 20) for i in range(8) for j in range(6)])
SIDE_PX = 20


def scene() -> Picture:
    """A grey picture with a corner in each patch."""
    grey = np.full((360, 520), 90, np.uint8)
    for number, (x, y) in enumerate(TOPS):
        grey[y + 9 : y + 30, x + 8 : x + 30] = 120 + 2 * number
    return grey


def kept_by_patches(patches: Picture) -> Background:
    places_px = TOPS + SIDE_PX / 2
    return Background(520, 360, patches, places_px, detail_share(patches))


def cut(grey: Picture) -> Picture:
    return np.stack([grey[y : y + SIDE_PX, x : x + SIDE_PX] for x, y in TOPS])


def median_kept(before: Picture, now: Picture, shift_px: float = 0.0) -> float:
    background = kept_by_patches(cut(before))
    every = np.ones(len(TOPS), bool)
    return float(np.median(detail_kept(background, every, now, TOPS + shift_px)))


def test_the_same_picture_keeps_all_its_detail() -> None:
    assert median_kept(scene(), scene()) == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize(("gain", "offset"), [(0.4, 0.0), (1.0, 30.0), (0.7, 60.0)])
def test_the_strength_of_the_light_cancels(gain: float, offset: float) -> None:
    assert median_kept(scene(), lit(gain, offset)(scene(), 0.0)) == pytest.approx(1.0, abs=0.03)


@pytest.mark.parametrize("sd", [5.0, 12.0])
def test_noise_is_neither_detail_nor_the_lack_of_it(sd: float) -> None:
    assert median_kept(scene(), noisy(sd)(scene(), 0.0)) == pytest.approx(1.0, abs=0.1)


def test_detail_falls_the_more_the_further_out_of_focus() -> None:
    kept = [median_kept(scene(), blurred(sd_px)(scene(), 0.0)) for sd_px in (0.5, 1.0, 1.5, 3.0)]
    assert kept == sorted(kept, reverse=True)
    assert kept[0] > 0.8
    assert kept[2] < 0.5


def test_detail_rises_when_the_focus_is_found() -> None:
    assert median_kept(blurred(1.5)(scene(), 0.0), scene()) > 1.3


def test_patches_are_measured_where_they_are_to_a_part_of_a_pixel() -> None:
    fine = blurred(2.0)(np.kron(scene(), np.ones((4, 4), np.uint8)), 0.0)
    # Every fourth pixel: the second picture lies half a pixel further left than the first.
    first, second = fine[0::4, 0::4].copy(), fine[2::4, 2::4].copy()
    assert median_kept(first, second, -0.5) == pytest.approx(1.02, abs=0.03)
    assert median_kept(first, second, 0.0) < 0.97


def test_no_patch_gives_no_value() -> None:
    background = kept_by_patches(cut(scene()))
    nothing = detail_kept(background, np.zeros(len(TOPS), bool), scene(), np.empty((0, 2)))
    assert nothing.shape == (0,)
