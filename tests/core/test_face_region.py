"""What must be hidden so that the face cannot be known: the head, and rather too much."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from made_bodies import head_frame, nobody

from posewatch.core.face_region import (
    BLOCKS_ACROSS,
    REMEMBERED_NS,
    FaceState,
    Patch,
    step,
)
from posewatch.core.records import NS_PER_S, Frame

WIDTH, HEIGHT = 640, 480
STEP_NS = NS_PER_S // 30
WHOLE = Patch(0, 0, WIDTH, HEIGHT, 80)
#: Chin, crown, back of the head and tip of the nose, likewise.
HEAD_CM = [(9.0, 11.0), (0.0, -12.5), (-10.0, -2.0), (12.0, 3.0)]


def has(patch: Patch, x: float, y: float, clear_px: float = 0.0) -> bool:
    return (
        patch.left <= x - clear_px
        and x + clear_px <= patch.right
        and patch.top <= y - clear_px
        and y + clear_px <= patch.bottom
    )


def only(frame: Frame, state: FaceState | None = None) -> Patch:
    (patch,) = step(state or FaceState(), frame, WIDTH, HEIGHT)[1]
    return patch


@pytest.mark.parametrize("px_per_cm", [1.0, 2.0, 4.0])
@pytest.mark.parametrize("turned_deg", [0, 45, 90])
def test_the_whole_head_is_inside_with_room_around_it(px_per_cm: float, turned_deg: int) -> None:
    """A head that looks down is inside as well: the patch is a square about the points."""
    turn = np.radians(turned_deg)
    matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    ear = np.array([320.0, 240.0])
    frame = head_frame(0, (320.0, 240.0), px_per_cm)
    frame.points_px[:11] = ear + (frame.points_px[:11] - ear) @ matrix.T
    patch = only(frame)
    for place in HEAD_CM:
        x, y = ear + px_per_cm * matrix @ place
        assert has(patch, x, y, clear_px=5 * px_per_cm)
    # Not the whole body, though: about as wide as the trunk is long.
    assert 40 * px_per_cm < patch.right - patch.left < 80 * px_per_cm


def test_blocks_are_few_across_the_head() -> None:
    patch = only(head_frame())
    assert BLOCKS_ACROSS == 8
    assert (patch.right - patch.left) / patch.block_px <= BLOCKS_ACROSS
    assert 23 * 2.0 / patch.block_px <= 4  # the head itself


def test_a_patch_at_the_edge_is_cut_off_and_its_blocks_stay_coarse() -> None:
    inside, cut = only(head_frame()), only(head_frame(ear=(20.0, 15.0)))
    assert (cut.left, cut.top) == (0, 0)
    assert cut.right - cut.left < inside.right - inside.left
    assert cut.block_px == inside.block_px


def test_nobody_at_the_beginning_hides_all() -> None:
    assert only(nobody(0)) == WHOLE


def test_a_head_that_is_not_found_is_where_it_was_and_wider_until_nobody_knows() -> None:
    state, _ = step(FaceState(), head_frame(0), WIDTH, HEIGHT)
    last = only(head_frame(0))
    t_ns = STEP_NS
    while t_ns <= REMEMBERED_NS:
        state, (patch,) = step(state, nobody(t_ns), WIDTH, HEIGHT)
        assert patch != WHOLE
        assert patch.left <= last.left
        assert patch.bottom >= last.bottom
        assert patch.block_px > last.block_px
        # Wherever a head can have gone at 1 m/s, it is inside.
        way_px = 2.0 * 100 * t_ns / NS_PER_S
        for dx, dy in ((way_px, 0.0), (-way_px, 0.0), (0.0, way_px), (0.0, -way_px)):
            x = min(max(300.0 + dx, 0.0), WIDTH - 1.0)
            y = min(max(120.0 + dy, 0.0), HEIGHT - 1.0)
            assert has(patch, x, y)
        last, t_ns = patch, t_ns + STEP_NS
    state, (patch,) = step(state, nobody(REMEMBERED_NS + STEP_NS), WIDTH, HEIGHT)
    assert patch == WHOLE
    assert state == FaceState()


def test_memory_is_of_time_not_of_pictures() -> None:
    """Pictures that were left out must not lengthen it."""
    state, _ = step(FaceState(), head_frame(0), WIDTH, HEIGHT)
    assert only(nobody(REMEMBERED_NS + 1), state) == WHOLE


@pytest.mark.parametrize(
    ("points", "level"), [(slice(0, 6), "visibility"), (slice(0, 6), "presence")]
)
def test_points_that_are_not_believed_make_no_head(points: slice, level: str) -> None:
    frame = head_frame()
    values = np.ones(33)
    values[points] = 0.49
    assert only(replace(frame, **{level: values})) == WHOLE
    values[points] = 0.51
    assert only(replace(frame, **{level: values})) != WHOLE


def test_a_head_outside_the_picture_is_no_head_that_was_found() -> None:
    """A pose model goes on guessing beyond the edge, and part of a face may be inside."""
    assert only(head_frame(ear=(300.0, -40.0))) == WHOLE


def test_a_face_that_is_seen_from_behind_is_hidden_by_the_size_of_the_body() -> None:
    frame = head_frame()
    narrow = frame.points_px[:11].mean(axis=0)
    frame.points_px[:11] = narrow + 0.1 * (frame.points_px[:11] - narrow)
    patch = only(frame)
    assert has(patch, *narrow, clear_px=2.0 * 23 / 2)


def test_a_body_that_is_not_known_takes_nothing_away() -> None:
    """Where sticker dots are read the far side has no points."""
    frame = head_frame()
    dotted = frame.points_px.copy()
    dotted[[11, 23]] = np.nan
    patch = only(replace(frame, points_px=dotted))
    for x, y in HEAD_CM:
        assert has(patch, 300.0 + 2 * x, 120.0 + 2 * y)


def test_a_head_that_jumps_hides_both_places_until_the_first_is_forgotten() -> None:
    """The model may take a poster, or somebody who walks past, for the rider."""
    state, _ = step(FaceState(), head_frame(0), WIDTH, HEIGHT)
    away = (560.0, 400.0)
    state, patches = step(state, head_frame(STEP_NS, away), WIDTH, HEIGHT)
    assert len(patches) == 2
    assert any(has(patch, 320.0, 120.0) for patch in patches)
    assert any(has(patch, 570.0, 405.0) for patch in patches)
    # It comes back: the rider was there all the time.
    back, patches = step(state, head_frame(2 * STEP_NS), WIDTH, HEIGHT)
    assert len(patches) == 1
    assert back.last is not None
    assert back.last.t_ns == 2 * STEP_NS
    # It stays: after the memory's time it is the rider.
    later = REMEMBERED_NS + STEP_NS
    stayed, patches = step(state, head_frame(later, away), WIDTH, HEIGHT)
    assert len(patches) == 1
    assert stayed.last is not None
    assert stayed.last.x_px == pytest.approx(570.0 + 2.0)


def test_a_head_that_moves_as_fast_as_one_can_is_one_patch() -> None:
    state = FaceState()
    for n in range(30):
        state, patches = step(state, head_frame(n * STEP_NS, (200.0 + 8 * n, 120.0)), WIDTH, HEIGHT)
        assert len(patches) == 1
