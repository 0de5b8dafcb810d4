"""The view watched over demo clips, and over what may happen to a camera."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

import numpy as np
import pytest
from made_views import (
    HARMLESS,
    MOVES,
    Effect,
    clip_landmarks,
    clip_pictures,
    hidden,
    lit,
    warped,
)

from posewatch.camera.background import make_background
from posewatch.camera.view_watch import ViewWatch
from posewatch.core.records import VIEW, FloatArray, SourceCondition, SourceState
from posewatch.core.sources import Picture
from posewatch.core.view_motion import Background
from posewatch.core.view_shift import View, describe
from posewatch.errors import BadInput

NOBODY = np.full((33, 2), np.nan)
AT_S = 3.0


@cache
def set_up() -> Background:
    return make_background([rgb for _, rgb in clip_pictures("empty_bike", 1.0, 6)])


def nothing(rgb: Picture, _: float) -> Picture:
    return rgb


def ride(clip: str, until_s: float) -> Iterator[tuple[int, Picture | None, FloatArray]]:
    """Give the time, landmarks and, twice a second, the picture of a clip."""
    pictures = dict(clip_pictures(clip, until_s, 15))
    for t_ns, points_px in clip_landmarks(clip).items():
        if t_ns <= until_s * 1e9:
            yield t_ns, pictures.get(t_ns), points_px


def watch(
    background: Background | None,
    clip: str,
    until_s: float,
    effect: Effect = nothing,
    part_s: tuple[float, float] = (0.0, 1e9),
) -> tuple[ViewWatch, list[SourceState]]:
    """Follow a clip while something happens to its pictures in a part of it."""
    view = ViewWatch(background)
    said: list[SourceState] = []
    last = np.zeros((480, 640, 3), np.uint8)
    for t_ns, rgb, points_px in ride(clip, until_s):
        since_s = t_ns / 1e9 - part_s[0]
        if rgb is not None:
            last = effect(rgb, since_s) if 0 <= since_s < part_s[1] - part_s[0] else rgb
        said += view.look_at(t_ns, last, points_px)
    return view, said


@pytest.mark.parametrize("clip", ["walks_past", "dark_kit_dim_room", "saddle_low", "drops_steady"])
@pytest.mark.parametrize("has_set_up", [True, False])
def test_a_camera_that_stands_is_never_said_to_have_moved(clip: str, has_set_up: bool) -> None:
    view, said = watch(set_up() if has_set_up else None, clip, 10.0)
    assert said == []
    assert view.state.view is View.STILL
    # It did look: twice a second, and found the background.
    assert view.state.now.t_ns > 9e9
    assert abs(view.state.now.right_px) < 0.2


@pytest.mark.parametrize("name", MOVES)
def test_a_move_is_noticed_in_time(name: str) -> None:
    effect, within_s = MOVES[name]
    view, said = watch(set_up(), "hoods_interruptions", AT_S + 4.5, effect, (AT_S, 1e9))
    assert [(state.source, state.condition) for state in said] == [
        (VIEW, SourceCondition.VIEW_MOVED)
    ]
    assert AT_S + 1.0 <= said[0].t_ns / 1e9 <= AT_S + within_s + 1e-6
    assert view.state.departed


@pytest.mark.parametrize("name", ["2 px right", "defocus", "another room"])
def test_a_move_is_noticed_from_a_background_of_its_own(name: str) -> None:
    effect, within_s = MOVES[name]
    _, said = watch(None, "hoods_interruptions", AT_S + 4.5, effect, (AT_S, 1e9))
    assert [state.condition for state in said] == [SourceCondition.VIEW_MOVED]
    assert said[0].t_ns / 1e9 <= AT_S + within_s + 0.5 + 1e-6


@pytest.mark.parametrize("name", HARMLESS)
def test_harmless_changes_are_not_said(name: str) -> None:
    view, said = watch(set_up(), "walks_past", 10.0, HARMLESS[name], (AT_S, 1e9))
    assert said == []
    assert view.state.view is View.STILL


@pytest.mark.parametrize(
    ("effect", "lasts_s"),
    [
        (hidden(0.0, 0.3), 3.0),
        (hidden(0.7, 1.0), 3.0),
        (warped(9.0, 5.0), 0.9),
        (lit(gain=0.004), 4.0),
    ],
)
def test_what_passes_is_not_said(effect: Effect, lasts_s: float) -> None:
    view, said = watch(set_up(), "hoods_interruptions", 10.0, effect, (AT_S, AT_S + lasts_s))
    assert said == []
    assert view.state.view is View.STILL


def test_a_camera_put_back_is_as_at_set_up_again() -> None:
    view, said = watch(set_up(), "hoods_interruptions", 11.0, warped(6.0), (AT_S, AT_S + 4.0))
    assert [state.condition for state in said] == [
        SourceCondition.VIEW_MOVED,
        SourceCondition.RUNNING,
    ]
    assert AT_S + 6.0 <= said[1].t_ns / 1e9 <= AT_S + 7.0
    assert describe(view.state) == "The camera stands as at set-up."


def test_the_pictures_say_the_same_again() -> None:
    one, other = (
        watch(set_up(), "walks_past", 8.0, warped(2.0, 1.0), (AT_S, 1e9)) for _ in range(2)
    )
    assert one[1] == other[1]
    assert one[0].state == other[0].state


def test_it_looks_twice_a_second_of_picture_time() -> None:
    view = ViewWatch(set_up())
    rgb = clip_pictures("empty_bike", 1.0, 6)[0][1]
    looked = set()
    for number in range(90):
        view.look_at(number * 33_333_333, rgb, NOBODY)
        looked.add(view.state.now.t_ns)
    assert 5 <= len(looked) <= 7


def test_its_own_background_leaves_the_rider_and_his_legs_out() -> None:
    view, _ = watch(None, "hoods_interruptions", 2.0)
    assert view.background is not None
    for points_px in list(clip_landmarks("hoods_interruptions").values())[:30]:
        away = np.abs(points_px[:, None] - view.background.places_px).max(axis=2)
        assert away.min() > 20


def test_in_the_dark_it_waits_for_a_background() -> None:
    view = ViewWatch()
    rgb = clip_pictures("empty_bike", 1.0, 6)[0][1]
    for number in range(60):
        assert view.look_at(number * 100_000_000, np.zeros_like(rgb), NOBODY) == ()
    assert view.background is None
    for number in range(60, 80):
        view.look_at(number * 100_000_000, rgb, NOBODY)
    assert view.background is not None


def test_pictures_of_another_size_are_explained() -> None:
    view = ViewWatch(set_up())
    with pytest.raises(BadInput, match="640 x 480 px, and gives 320 x 240 px"):
        view.look_at(0, np.zeros((240, 320, 3), np.uint8), NOBODY)
