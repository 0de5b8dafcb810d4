"""Channels, values and limits in the operator's words. Without Qt.

Live values are whole numbers: a webcam knows no tenths of a degree. Limits are settings and are
said as they were set.
"""

from __future__ import annotations

import math

from posewatch.core.envelope import Unit
from posewatch.core.outputs import ChannelValue
from posewatch.core.records import Channel

#: What a value above, and one below, its centre is.
OFF_WORDS = {
    Channel.TORSO: ("too high", "too low"),
    Channel.KNEE: ("too bent", "too straight"),
    Channel.HIP: ("too open", "too closed"),
    Channel.SITTING_PLACE: ("too far forward", "too far back"),
    Channel.PELVIS_HEIGHT: ("too high", "too low"),
    Channel.POWER: ("too high", "too low"),
    Channel.CADENCE: ("too fast", "too slow"),
}
#: For the hand, by the larger part: along and up.
HAND_WORDS = (("too far forward", "too far back"), ("too high", "too low"))
RESTLESS = "moves too much"
EFFORT_SIGNS = {Channel.POWER: "W", Channel.CADENCE: "rpm"}
NOT_KNOWN = "\N{EN DASH}"


def hand_part(value: ChannelValue) -> tuple[int, float]:
    """Return the hand's larger part: 0 = along, 1 = up, and how far it is off that way."""
    along = abs(value.along) >= abs(value.up)
    return (0, value.along) if along else (1, value.up)


def off_words(value: ChannelValue) -> str:
    """Return in which way a channel is off: "too high"."""
    if value.restless:
        return RESTLESS
    if value.channel is Channel.HAND_PLACE:
        part, size = hand_part(value)
        return HAND_WORDS[part][0 if size > 0 else 1]
    return OFF_WORDS[value.channel][0 if value.deviation > 0 else 1]


def sign_of(channel: Channel, unit: Unit | None) -> str:
    """Return a unit as it is written behind a number; places of an uncalibrated camera are nominal.

    unit: of the channel's envelope, None for effort.
    """
    if unit is None:
        return f" {EFFORT_SIGNS[channel]}"
    return "\N{DEGREE SIGN}" if unit is Unit.DEG else " mm"


def limit_text(channel: Channel, unit: Unit | None, limit: float) -> str:
    """Return a limit as it was set: "3.5°", "8 mm", "14 W"."""
    size = limit * (1.0 if unit is None else unit.nominal)
    return f"{round(size, 2):g}{sign_of(channel, unit)}"


def whole(size: float, unit: Unit | None) -> int:
    """Return a known value as a whole number of degrees, mm, W or rpm, half away from zero."""
    size *= 1.0 if unit is None else unit.nominal
    return int(math.copysign(math.floor(abs(size) + 0.5), size))


def measured_text(channel: Channel, value: float) -> str:
    """Return power or cadence as they are: "205 W", a dash where it is not known."""
    if math.isnan(value):
        return NOT_KNOWN
    return f"{whole(value, None)}{sign_of(channel, None)}"


def value_text(channel: Channel, unit: Unit | None, size: float) -> str:
    """Return a live deviation: "+2°", "0 mm", a dash where it is not known."""
    if math.isnan(size):
        return NOT_KNOWN
    number = whole(size, unit)
    before = ("\N{MINUS SIGN}" if number < 0 else "+") if number else ""
    return f"{before}{abs(number)}{sign_of(channel, unit)}"
