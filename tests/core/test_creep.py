"""Slow creep inside the band. Limits: 4 mm in 3 min, 1.5 degrees in 5 min (project's own rule)."""

from __future__ import annotations

from itertools import pairwise

import pytest

from posewatch.core import creep
from posewatch.core.creep import CreepState
from posewatch.core.envelope import Unit
from posewatch.core.outputs import ChannelValue, CreepWarning
from posewatch.core.records import BODY_CHANNELS, NS_PER_S, Channel, Verdict

STROKE_NS = NS_PER_S * 2 // 3


def values(deviations: dict[Channel, float], verdict: Verdict) -> tuple[ChannelValue, ...]:
    return tuple(
        ChannelValue(channel, deviations.get(channel, 0.0), 0.0, verdict, True)
        for channel in BODY_CHANNELS
    )


def ride(
    minutes: float,
    channel: Channel,
    change_per_min: float,
    verdict: Verdict = Verdict.GOOD,
    place_unit: Unit = Unit.THIGH,
) -> list[CreepWarning]:
    state, found = CreepState(), []
    for n in range(round(minutes * 60 * NS_PER_S / STROKE_NS)):
        end_ns = (n + 1) * STROKE_NS
        moved = change_per_min * end_ns / NS_PER_S / 60
        state, warnings = creep.step(state, end_ns, values({channel: moved}, verdict), place_unit)
        found += warnings
    return found


@pytest.mark.parametrize(
    ("channel", "limit", "span_min", "place_unit"),
    [
        (Channel.TORSO, 1.5, 5.0, Unit.MM),
        (Channel.KNEE, 1.5, 5.0, Unit.THIGH),
        (Channel.SITTING_PLACE, 4.0 / 430.0, 3.0, Unit.THIGH),
        (Channel.SITTING_PLACE, 4.0, 3.0, Unit.MM),
        (Channel.PELVIS_HEIGHT, -4.0 / 430.0, 3.0, Unit.THIGH),
        (Channel.PELVIS_HEIGHT, -4.0, 3.0, Unit.MM),
    ],
)
def test_faster_than_the_limit_warns_and_slower_does_not(
    channel: Channel, limit: float, span_min: float, place_unit: Unit
) -> None:
    slower, faster = 0.95 * limit / span_min, 1.05 * limit / span_min
    assert ride(9, channel, slower, place_unit=place_unit) == []
    found = ride(9, channel, faster, place_unit=place_unit)
    assert {w.channel for w in found} == {channel}
    is_place = channel in (Channel.SITTING_PLACE, Channel.PELVIS_HEIGHT)
    assert {w.unit for w in found} == {place_unit if is_place else Unit.DEG}
    # The earlier mean is taken while its window still fills, so a little of the change is missing.
    assert found[0].change == pytest.approx(1.05 * limit, rel=0.05)
    assert found[0].t_ns >= span_min * 60 * NS_PER_S


def test_a_channel_warns_once_a_span() -> None:
    found = ride(16, Channel.TORSO, 1.0)
    assert len(found) >= 2
    assert all(b.t_ns - a.t_ns >= creep.ANGLE_SPAN_NS for a, b in pairwise(found))


def test_unknown_strokes_say_nothing() -> None:
    assert ride(9, Channel.TORSO, 1.0, Verdict.UNKNOWN) == []


def test_the_memory_stays_as_long_as_the_longest_span() -> None:
    state = CreepState()
    for n in range(2000):
        state, _ = creep.step(state, (n + 1) * STROKE_NS, values({}, Verdict.GOOD), Unit.MM)
    kept_ns = state.values[-1][0] - state.values[0][0]
    assert kept_ns <= creep.ANGLE_SPAN_NS + creep.MEAN_OVER_NS
