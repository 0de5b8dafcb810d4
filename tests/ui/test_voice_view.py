"""Which sounds the rider hears, without a loudspeaker."""

from __future__ import annotations

from typing import Any

import pytest
from made_scenes import scene, standing

from posewatch.core.outputs import Phase, Reason
from posewatch.core.records import NS_PER_S, Channel
from posewatch.core.standing import Standing
from posewatch.studio import Doing
from posewatch.ui.scene import Reset, Switches
from posewatch.ui.voice_view import (
    AGAIN_NS,
    BETWEEN_NS,
    Sound,
    Tone,
    VoiceMemory,
    speaks_by_default,
    voice_view,
)

LOWER = standing(cue=Channel.TORSO, direction="lower, bend elbows")
BACK = standing(cue=Channel.SITTING_PLACE, direction="sit back")
STEADYING = standing(phase=Phase.STEADYING)
WELL = standing()
RISE, FALL = Sound(Tone.RISING), Sound(Tone.FALLING)

Course = list[tuple[float, Standing | None]]


def heard(course: Course, end_s: float, **changes: Any) -> list[tuple[float, Sound]]:
    """Return when what is heard, polled at 30 Hz, if standings begin at the given seconds."""
    memory, found = VoiceMemory(), []
    for poll in range(round(end_s * 30)):
        t_s = poll / 30
        stands = next(one for since_s, one in reversed(course) if since_s <= t_s)
        now_ns = 100 * NS_PER_S + round(t_s * NS_PER_S)
        memory, sound = voice_view(scene(stands, monotonic_ns=now_ns, **changes), memory)
        if sound is not None:
            found.append((t_s, sound))
    return found


def test_coming_into_position_rises_and_a_new_correction_falls() -> None:
    course: Course = [(0, STEADYING), (1, WELL), (2, LOWER), (4, WELL)]
    assert heard(course, 8) == [(1.0, RISE), (2.0, FALL)]


def test_a_watch_that_is_looked_at_in_position_rises_once() -> None:
    assert heard([(0, WELL)], 10) == [(0.0, RISE)]


def test_words_are_spoken_where_wished() -> None:
    course: Course = [(0, STEADYING), (1, LOWER)]
    spoken = heard(course, 3, switches=Switches(speech=True))
    assert spoken == [
        (1.0, RISE),
        (pytest.approx(1.03, abs=0.01), Sound(Tone.FALLING, LOWER.direction)),
    ]


def test_a_correction_that_stands_is_told_once() -> None:
    assert heard([(0, WELL), (1, LOWER)], 20) == [(0.0, RISE), (1.0, FALL)]


def test_the_same_correction_comes_again_after_four_seconds_at_the_earliest() -> None:
    course: Course = [(0, WELL), (1, LOWER), (2.5, WELL), (3, LOWER), (9, WELL), (14, LOWER)]
    again_s = 1.0 + AGAIN_NS / NS_PER_S
    assert [t for t, sound in heard(course, 16) if sound == FALL] == [1.0, again_s, 14.0]
    short: Course = [(0, WELL), (1, LOWER), (2.5, WELL), (3, LOWER), (4, WELL)]
    assert [t for t, sound in heard(short, 16) if sound == FALL] == [1.0]


def test_another_correction_lets_the_first_be_said_to_its_end() -> None:
    fell = [t for t, sound in heard([(0, WELL), (1, LOWER), (2, BACK)], 8) if sound == FALL]
    assert fell == [1.0, pytest.approx(1.0 + BETWEEN_NS / NS_PER_S, abs=0.04)]


def test_the_rising_tone_is_not_repeated_at_once() -> None:
    course: Course = [(i, STEADYING if i % 2 else WELL) for i in range(12)]
    rose = [t for t, sound in heard(course, 12) if sound == RISE]
    assert rose == [0.0, 4.0, 8.0]


@pytest.mark.parametrize(
    "changes",
    [
        {"paused": "rest"},
        {"paused": "paused"},
        {"doing": Doing.NOTHING},
        {"doing": Doing.PREVIEW},
        {"switches": Switches(sound=False, speech=True)},
    ],
)
def test_there_is_silence_at_rest_behind_the_curtain_and_with_sound_off(
    changes: dict[str, Any],
) -> None:
    assert heard([(0, STEADYING), (1, WELL), (2, LOWER)], 6, **changes) == []


def test_there_is_silence_while_paused_and_once_the_goal_is_reached() -> None:
    paused = standing(waiting=(Reason.PAUSED,), cue=Channel.TORSO, direction="lower, bend elbows")
    reached = standing(counted=60, cue=Channel.TORSO, direction="lower, bend elbows")
    assert heard([(0, paused)], 3) == heard([(0, reached)], 3) == []


def test_nobody_is_corrected_in_the_reset() -> None:
    reset = Reset("stand", 8.0)
    assert heard([(0, STEADYING), (1, LOWER), (4, WELL)], 8, reset=reset) == []


def test_without_cues_only_the_rising_tone_is_left() -> None:
    course: Course = [(0, STEADYING), (1, WELL), (2, LOWER)]
    assert heard(course, 6, switches=Switches(cues=False, speech=True)) == [(1.0, RISE)]


def test_a_new_watch_starts_anew() -> None:
    course: Course = [(0, WELL), (1, LOWER), (2, None), (3, WELL), (3.5, LOWER)]
    assert [sound for _, sound in heard(course, 6)] == [RISE, FALL, RISE, FALL]


@pytest.mark.parametrize(
    ("hands", "speaks"),
    [("hoods", False), ("drops", True), ("Aero", True), ("aero bars", True), ("tops", False)],
)
def test_words_are_on_by_default_where_the_head_is_down(hands: str, speaks: bool) -> None:
    assert speaks_by_default(hands) is speaks
