"""Channels, values and limits in words."""

from __future__ import annotations

import math

import pytest

from posewatch.core.envelope import Unit
from posewatch.core.outputs import ChannelValue
from posewatch.core.records import Channel, Verdict
from posewatch.ui.channel_words import OFF_WORDS, limit_text, off_words, value_text, whole


@pytest.mark.parametrize(
    ("size", "unit", "number"),
    [
        (2.5, Unit.DEG, 3),
        (-2.5, Unit.DEG, -3),
        (2.49, Unit.DEG, 2),
        (-0.4, Unit.DEG, 0),
        (12.6, Unit.MM, 13),
        # 430 mm to a thigh.
        (0.01, Unit.THIGH, 4),
        (-31.2, None, -31),
    ],
)
def test_values_are_whole_and_halves_go_away_from_zero(
    size: float, unit: Unit | None, number: int
) -> None:
    assert whole(size, unit) == number


def test_limits_are_said_as_they_were_set() -> None:
    assert limit_text(Channel.TORSO, Unit.DEG, 3.5) == "3.5\N{DEGREE SIGN}"
    assert limit_text(Channel.TORSO, Unit.DEG, 3.0) == "3\N{DEGREE SIGN}"
    assert limit_text(Channel.HAND_PLACE, Unit.THIGH, 20.0 / 430.0) == "20 mm"
    assert limit_text(Channel.CADENCE, None, 4.0) == "4 rpm"


def test_values_carry_their_sign_and_blanks_are_dashes() -> None:
    assert value_text(Channel.POWER, None, 12.4) == "+12 W"
    assert value_text(Channel.TORSO, Unit.DEG, -1.6) == "\N{MINUS SIGN}2\N{DEGREE SIGN}"
    assert value_text(Channel.TORSO, Unit.DEG, 0.4) == "0\N{DEGREE SIGN}"
    assert value_text(Channel.TORSO, Unit.DEG, math.nan) == "\N{EN DASH}"


def value(channel: Channel, deviation: float, along: float = 0.0, up: float = 0.0) -> ChannelValue:
    return ChannelValue(channel, deviation, 0.0, Verdict.OUT, True, along=along, up=up)


def test_every_channel_has_words_for_both_ways() -> None:
    for channel in Channel:
        if channel is Channel.HAND_PLACE:
            continue
        above, below = (off_words(value(channel, size)) for size in (1.0, -1.0))
        assert (above, below) == OFF_WORDS[channel]
        assert above != below


@pytest.mark.parametrize(
    ("along", "up", "words"),
    [
        (30.0, 10.0, "too far forward"),
        (-30.0, 10.0, "too far back"),
        (10.0, 30.0, "too high"),
        (10.0, -30.0, "too low"),
    ],
)
def test_the_hand_is_off_by_its_larger_part(along: float, up: float, words: str) -> None:
    assert off_words(value(Channel.HAND_PLACE, 31.6, along, up)) == words
