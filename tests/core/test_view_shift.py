"""From looks over time to what became of the view."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pytest
from made_findings import found, grid_px, moved_by

from posewatch.core.view_motion import Findings
from posewatch.core.view_shift import View, ViewState, describe, step

HALF_NS = 500_000_000
PLACES = grid_px()
NOTHING = np.full_like(PLACES, np.nan)


def moved(*motion: float, size: int = 1) -> Findings:
    return found(size * PLACES, moved_by(PLACES, *motion), size=size)


STILL = moved()
NOT_FOUND = found(PLACES, NOTHING)
BLURRED = found(PLACES, moved_by(PLACES), sharpness=0.5)
DARK = found(PLACES, NOTHING, contrast=0.2)


def follow(looks: Iterable[Findings], state: ViewState | None = None) -> list[ViewState]:
    """Return the state after each look, half a second apart."""
    states = [state or ViewState()]
    begin = len(states[0].runs) and states[0].now.t_ns // HALF_NS + 1
    for number, findings in enumerate(looks):
        states.append(step(states[-1], findings, (begin + number) * HALF_NS))
    return states[1:]


def seconds_until(view: View, states: list[ViewState]) -> float:
    """Return how long after the first look a view stands."""
    return next(n for n, state in enumerate(states) if state.view is view) / 2


@pytest.mark.parametrize(
    ("findings", "view", "least_s", "most_s"),
    [
        (moved(2.0), View.MOVED, 1.0, 2.0),
        (moved(0.0, -2.0), View.MOVED, 1.0, 2.0),
        (moved(40.0, 20.0), View.MOVED, 1.0, 2.0),
        (moved(0.0, 0.0, 1.0, 0.5), View.MOVED, 1.0, 2.0),
        (moved(0.0, 0.0, 1.01), View.ZOOMED, 1.0, 2.0),
        (moved(0.0, 0.0, 0.97), View.ZOOMED, 1.0, 2.0),
        (BLURRED, View.OUT_OF_FOCUS, 2.0, 3.0),
        (found(PLACES, moved_by(PLACES), sharpness=1.4), View.OUT_OF_FOCUS, 2.0, 3.0),
        (NOT_FOUND, View.ANOTHER, 3.0, 3.5),
    ],
)
def test_what_stands_is_found(
    findings: Findings, view: View, least_s: float, most_s: float
) -> None:
    before = follow([STILL] * 6)
    assert all(state.view is View.STILL and not state.departed for state in before)
    after = follow([findings] * 10, before[-1])
    assert least_s <= seconds_until(view, after) <= most_s
    assert after[-1].view is view
    assert after[-1].departed


@pytest.mark.parametrize(
    "findings",
    [
        moved(1.0, 0.8),
        moved(0.0, 0.0, 1.004),
        moved(0.0, 0.0, 1.0, -0.25),
        found(PLACES, moved_by(PLACES), sharpness=0.8),
        found(PLACES, moved_by(PLACES), sharpness=1.15),
    ],
)
def test_within_the_limits_nothing_is_lost(findings: Findings) -> None:
    states = follow([findings] * 20)
    assert all(state.view is View.STILL and not state.departed for state in states)


@pytest.mark.parametrize(
    ("findings", "n_looks"), [(moved(9.0), 2), (BLURRED, 4), (NOT_FOUND, 6), (DARK, 20)]
)
def test_what_passes_loses_nothing(findings: Findings, n_looks: int) -> None:
    states = follow([STILL] * 4 + [findings] * n_looks + [STILL] * 8)
    assert not any(state.departed for state in states)
    assert states[-1].view is View.STILL


def test_a_rocking_bike_is_no_moved_camera() -> None:
    states = follow([moved(2.5), moved(-2.5), STILL] * 20)
    assert not any(state.departed for state in states)


def test_somebody_who_hides_half_of_it_is_no_moved_camera() -> None:
    shifts = moved_by(PLACES)
    half = PLACES[:, 0] > 320
    shifts[half] = np.random.default_rng(1).uniform(-12, 12, shifts[half].shape)
    assert not any(state.departed for state in follow([found(PLACES, shifts)] * 20))


def test_somebody_who_hides_nearly_all_of_it_is_no_other_view() -> None:
    shifts = NOTHING.copy()
    shifts[:6] = 0.2
    states = follow([STILL] * 4 + [found(PLACES, shifts)] * 20)
    assert states[-1].view is View.CANNOT_TELL
    assert not any(state.departed for state in states)


def test_a_moved_thing_is_no_moved_camera() -> None:
    shifts = moved_by(PLACES)
    shifts[PLACES[:, 0] > 420] = (7.0, 0.0)
    assert not any(state.departed for state in follow([found(PLACES, shifts)] * 20))


def test_a_view_is_back_only_well_within_the_limits_and_after_two_seconds() -> None:
    lost = follow([STILL] * 4 + [moved(6.0)] * 6)[-1]
    near = follow([moved(1.0)] * 20, lost)
    assert all(state.departed for state in near)
    back = follow([moved(0.5)] * 10, near[-1])
    assert 2.0 <= seconds_until(View.STILL, back) <= 3.0
    assert not back[-1].departed


def test_a_dark_picture_neither_loses_a_view_nor_brings_it_back() -> None:
    stands = follow([STILL] * 4 + [DARK] * 10)[-1]
    assert (stands.view, stands.departed) == (View.CANNOT_TELL, False)
    lost = follow([STILL] * 4 + [moved(6.0)] * 6 + [DARK] * 10)[-1]
    assert (lost.view, lost.departed) == (View.CANNOT_TELL, True)
    assert not follow([STILL] * 8, lost)[-1].departed


def test_too_few_visible_patches_cannot_tell() -> None:
    expected = np.arange(len(PLACES)) < 5
    states = follow([found(PLACES, moved_by(PLACES, 9.0), expected=expected)] * 10)
    assert states[-1].view is View.CANNOT_TELL
    assert not any(state.departed for state in states)


def test_the_shift_limit_is_the_same_in_mm_for_larger_pictures() -> None:
    assert not any(state.departed for state in follow([moved(3.5, size=3)] * 10))
    assert follow([moved(6.0, size=3)] * 10)[-1].departed


def test_one_look_is_not_enough_however_late_the_next() -> None:
    state = step(ViewState(), moved(9.0), 0)
    state = step(state, moved(9.0), 60 * HALF_NS)
    assert not state.departed


def test_a_view_now_found_far_away_now_not_at_all_is_lost() -> None:
    looks = [STILL] * 4 + [NOT_FOUND, moved(200.0), NOT_FOUND] * 4
    assert follow(looks)[-1].departed


@pytest.mark.parametrize(
    ("findings", "words"),
    [
        (moved(6.0), "moved by 6 px to the left."),
        (moved(-6.2, 3.0), "moved by 6 px to the right and 3 px up."),
        (moved(0.0, -4.0), "moved by 4 px down."),
        (moved(0.0, 0.0, 1.0, 0.6), "turned by 0.6 degrees anticlockwise."),
        (moved(0.0, 0.0, 1.02), "zoomed in, or moved nearer, by 2.0 %."),
        (moved(0.0, 0.0, 0.97), "zoomed out, or moved away, by 3.0 %."),
        (BLURRED, "out of focus"),
        (found(PLACES, moved_by(PLACES), sharpness=1.5), "sharper than at set-up"),
        (NOT_FOUND, "another view"),
        (DARK, "Too little of the background"),
        (STILL, "stands as at set-up"),
    ],
)
def test_what_is_found_is_said_in_words(findings: Findings, words: str) -> None:
    assert words in describe(follow([findings] * 12)[-1])
