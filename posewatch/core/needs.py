"""What a trial needs, how it can stand with a need, and the facts from which that is told.

A need is *ready*; or there is a *gap*, with which a trial may begin and which is written into its
record; or it is *missing*, and then a trial cannot begin; or it was *not checked*, which is never
shown as ready, does not keep a trial from beginning and is written into the record too.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from posewatch.core.doubts import Doubt
from posewatch.core.envelope import Target
from posewatch.core.measuring_chain import MeasuringChain
from posewatch.core.plane import CameraProfile
from posewatch.core.records import Side


class Need(StrEnum):
    """What a trial needs, in the order in which it is seen to."""

    CONSENT = "consent"
    CAMERA = "camera"
    RATE = "picture rate"
    LIGHT = "light"
    BODY = "whole body"
    SIDE = "near side"
    PROFILE = "camera profile"
    TARGET = "target"
    RIDER = "same rider"
    SENSORS = "sensors"
    DISK = "disk"
    SOUND = "sound"
    CLOCK = "clock"


class Readiness(StrEnum):
    """How it stands with a need."""

    READY = "ready"
    GAP = "gap"
    MISSING = "missing"
    UNCHECKED = "not checked"


@dataclass(frozen=True, slots=True)
class Line:
    """One need. words: how it stands; advice: what to do, empty = nothing."""

    need: Need
    level: Readiness
    words: str
    advice: str = ""


@dataclass(frozen=True, slots=True)
class Sight:
    """What pictures have shown lately.

    running_s: for how long they have come without a break, 0 = none come. rate_hz: handled a
    second. light: what is wrong with it, empty = nothing was said, None = cannot be told (there are
    no pictures, only landmarks). seen_share: of the last moments in which the body was believed,
    NaN = none yet; doubt: the joint most often not believed in them, and why. side: that the camera
    sees.
    """

    running_s: float = 0.0
    rate_hz: float = 0.0
    light: str | None = None
    seen_share: float = math.nan
    doubt: tuple[str, Doubt] | None = None
    side: Side | None = None


@dataclass(frozen=True, slots=True)
class SensorFact:
    """A sensor that was chosen.

    gives: what, in words, as "power and cadence". is_live: values come, None = not looked for yet.
    advice: what its link says to do while none come.
    """

    name: str
    gives: str
    is_live: bool | None = None
    advice: str = ""


@dataclass(frozen=True, slots=True)
class Facts:
    """All that readiness is told from; defaults are those of a program that was just opened.

    consent_of: the code of the rider who agreed, empty = nobody. camera: what is to be watched,
    empty = not chosen. is_open, is_opening: whether it is, or is about to be. trouble: what is
    wrong with it, for people. profile: None = uncalibrated; profile_known: that was chosen. chain:
    of the open camera, None = not known. rider_asked: it was asked whether this is the target's
    rider. disk_free_bytes: -1 = not known. no_sound: why there can be none. sound_on: switched on.
    clock_step_s: by how much the wall clock stepped while it was watched, NaN = not long enough.
    sensors: those that were chosen, empty = none on purpose. no_power: power is planned, and no
    sensor is to give it.
    """

    consent_of: str = ""
    camera: str = ""
    is_open: bool = False
    is_opening: bool = False
    trouble: str = ""
    sight: Sight = Sight()
    profile: CameraProfile | None = None
    profile_known: bool = False
    target: Target | None = None
    chain: MeasuringChain | None = None
    any_chain: bool = False
    rider_asked: bool = False
    disk_free_bytes: int = -1
    no_sound: str = ""
    sound_on: bool = True
    clock_step_s: float = math.nan
    sensors: tuple[SensorFact, ...] = ()
    no_power: bool = False


def can_begin(lines: Sequence[Line]) -> bool:
    """Tell whether a trial may begin: nothing is missing."""
    return all(line.level is not Readiness.MISSING for line in lines)


def gaps_mark(lines: Sequence[Line]) -> str:
    """Return what is written into a trial's record of the needs that were not ready."""
    gaps = [line for line in lines if line.level is not Readiness.READY]
    if not gaps:
        return "begun with everything ready"
    told = "; ".join(f"{line.need}: {line.level}, {line.words}" for line in gaps)
    return f"begun with gaps: {told}"
