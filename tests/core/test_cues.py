"""The rider's cue: when it comes, when it goes, and which one it is."""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from posewatch.core import cues
from posewatch.core.cues import CueState, LiveChannel, correction
from posewatch.core.outputs import ChannelValue, CueChanged
from posewatch.core.records import BODY_CHANNELS, EFFORT_CHANNELS, Channel, Verdict
from posewatch.core.timebase import to_ns

TOL, INNER = 4.0, 3.4
RATE_HZ = 20.0

Values = dict[Channel, float]


def live(values: Values) -> dict[Channel, LiveChannel]:
    return {
        channel: LiveChannel(
            ChannelValue(channel, size, 0.0, Verdict.GOOD, True, None, size, 0.0), TOL, INNER
        )
        for channel, size in values.items()
    }


def follow(*spans: tuple[float, Values]) -> list[tuple[float, Channel | None]]:
    """Give each span's values for so many seconds at 20 Hz; return (s, cue) at each change."""
    state = CueState()
    found: list[tuple[float, Channel | None]] = []
    index = 0
    for seconds, values in spans:
        for _ in range(round(seconds * RATE_HZ)):
            state, changed = cues.step(state, to_ns(index / RATE_HZ), live(values))
            if changed is not None:
                found.append((index / RATE_HZ, changed.channel))
            index += 1
    return found


KNEE, TORSO, HIP = Channel.KNEE, Channel.TORSO, Channel.HIP


def test_a_cue_comes_after_three_tenths_of_a_second_beyond_the_limit() -> None:
    assert follow((1.0, {KNEE: 0.0}), (2.0, {KNEE: 4.1})) == [(1.3, KNEE)]


def test_a_shorter_excursion_says_nothing() -> None:
    assert follow((0.3, {KNEE: 4.1}), (1.0, {KNEE: 3.0}), (0.3, {KNEE: -4.1}), (1, {KNEE: 0})) == []


def test_at_the_limit_nothing_is_said() -> None:
    assert follow((2.0, {KNEE: 4.0})) == []


def test_it_goes_off_inside_the_inner_limit_only() -> None:
    changes = follow((2.0, {KNEE: 4.1}), (2.0, {KNEE: 3.5}), (2.0, {KNEE: 3.3}))
    assert changes == [(0.3, KNEE), (4.0, None)]


def test_it_is_kept_for_a_second() -> None:
    assert follow((0.4, {KNEE: 4.1}), (2.0, {KNEE: 0.0})) == [(0.3, KNEE), (1.3, None)]


def test_one_at_a_time_and_the_largest_share_of_its_limit_first() -> None:
    out: Values = {Channel.PELVIS_HEIGHT: -4.5, Channel.CADENCE: 6.0, KNEE: 5.0}
    assert follow((2.0, out)) == [(0.3, Channel.CADENCE)]


def test_another_takes_over_when_it_is_further_out_but_not_within_a_second() -> None:
    changes = follow(
        (0.5, {KNEE: 5.0, Channel.CADENCE: 0.0}), (2.0, {KNEE: 5.0, Channel.CADENCE: 6.0})
    )
    assert changes == [(0.3, KNEE), (1.3, Channel.CADENCE)]


@pytest.mark.parametrize("leading", [TORSO, Channel.HAND_PLACE, Channel.SITTING_PLACE])
@pytest.mark.parametrize("following", [KNEE, HIP])
def test_knee_and_hip_say_nothing_while_what_they_follow_is_out(
    leading: Channel, following: Channel
) -> None:
    changes = follow((2.0, {leading: 4.2, following: 40.0}), (2.0, {leading: 0.0, following: 40.0}))
    assert changes == [(0.3, leading), (2.0, following)]


def test_pelvis_height_and_effort_do_not_silence_the_knee() -> None:
    out: Values = {Channel.PELVIS_HEIGHT: 4.5, Channel.POWER: 4.5, KNEE: 5.0}
    assert follow((1.0, out)) == [(0.3, KNEE)]


def test_an_unknown_value_cues_nothing_and_ends_a_cue() -> None:
    assert follow((2.0, {KNEE: math.nan})) == []
    assert follow((2.0, {KNEE: 5.0}), (1.0, {KNEE: math.nan})) == [(0.3, KNEE), (2.0, None)]
    assert follow((2.0, {KNEE: 5.0}), (1.0, {})) == [(0.3, KNEE), (2.0, None)]


def test_the_direction_may_turn_within_one_channel() -> None:
    state, changed = CueState(), None
    directions = []
    for index in range(80):
        size = 5.0 if index < 30 else -5.0
        state, changed = cues.step(state, to_ns(index / RATE_HZ), live({TORSO: size}))
        directions += [] if changed is None else [changed.direction]
    assert directions == ["lower, bend elbows", "taller, straighten arms"]


@pytest.mark.parametrize("channel", [*BODY_CHANNELS, *EFFORT_CHANNELS])
def test_every_channel_has_two_different_directions(channel: Channel) -> None:
    above, below = (
        correction(ChannelValue(channel, size, 0.0, Verdict.OUT, True, None, size, 0.0))
        for size in (5.0, -5.0)
    )
    assert above
    assert below
    assert above != below


@pytest.mark.parametrize(
    ("along", "up", "words"),
    [
        (9.0, 2.0, "hands back"),
        (-9.0, 2.0, "hands forward"),
        (2.0, 9.0, "hands lower"),
        (2.0, -9.0, "hands higher"),
    ],
)
def test_the_hand_is_led_back_along_its_larger_part(along: float, up: float, words: str) -> None:
    size = math.hypot(along, up)
    value = ChannelValue(Channel.HAND_PLACE, size, 0.0, Verdict.OUT, True, None, along, up)
    assert correction(value) == words


sizes = st.sampled_from((0.0, 3.5, 4.2, 6.0, math.nan))
moment = st.fixed_dictionaries({c: sizes for c in (TORSO, KNEE, HIP, Channel.CADENCE)})


def changes(moments: Iterable[Values]) -> list[CueChanged]:
    state, found = CueState(), []
    for index, values in enumerate(moments):
        state, changed = cues.step(state, to_ns(index / RATE_HZ), live(values))
        found += [] if changed is None else [changed]
    return found


@settings(max_examples=60, derandomize=True, deadline=None)
@given(st.lists(st.tuples(moment, st.integers(1, 25)), max_size=8))
def test_a_cue_stays_at_least_a_second_and_always_changes_something(
    spans: list[tuple[Values, int]],
) -> None:
    found = changes(values for values, n in spans for _ in range(n))
    for before, after in pairwise(found):
        assert (before.channel, before.direction) != (after.channel, after.direction)
        if before.channel is not None:
            assert after.t_ns - before.t_ns >= to_ns(1.0)
