"""Scenes as windows are told them, without a camera or an engine."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from exact_rider import target

from posewatch.core.cues import LiveChannel
from posewatch.core.envelope import DEFAULT_TOLERANCE, LengthUnit
from posewatch.core.outputs import ChannelValue, Phase, Reason
from posewatch.core.records import BODY_CHANNELS, NS_PER_S, Channel, Effort, Verdict
from posewatch.core.standing import Standing
from posewatch.core.watch_plan import WatchPlan
from posewatch.runtime.engine import EngineState, Said, Shown
from posewatch.runtime.health import HealthMeter
from posewatch.studio import Doing
from posewatch.ui.scene import Scene, Switches

TARGET = target(LengthUnit.MM)
TOLERANCE = {**DEFAULT_TOLERANCE, Channel.POWER: 14.0, Channel.CADENCE: 4.0}


def live(
    channel: Channel,
    tolerances: float = 0.0,
    *,
    along: float = math.nan,
    up: float = math.nan,
    required: bool = True,
    reason: Reason | None = None,
    restless: bool = False,
) -> LiveChannel:
    """Return a live value so many tolerances off; the hand's parts are in tolerances too."""
    tol = TOLERANCE[channel]
    if channel is Channel.HAND_PLACE:
        along, up = (0.0 if math.isnan(part) else part * tol for part in (along, up))
        tolerances = math.hypot(along, up) / tol
    off = abs(tolerances) > 1.0 or restless
    verdict = Verdict.OUT if off else Verdict.GOOD
    deviation = tolerances * tol
    if reason is not None:
        deviation, verdict = math.nan, Verdict.UNKNOWN
    value = ChannelValue(
        channel, deviation, 0.0, verdict, required, reason, along, up, restless=restless
    )
    return LiveChannel(value, tol, 0.85 * tol)


def body(*changed: LiveChannel) -> tuple[LiveChannel, ...]:
    """Return the live values of a body that sits well but for the changed ones."""
    given = {one.value.channel: one for one in changed}
    height = live(Channel.PELVIS_HEIGHT, required=False)
    values = {channel: live(channel) for channel in BODY_CHANNELS}
    return tuple({**values, Channel.PELVIS_HEIGHT: height, **given}.values())


def standing(**changes: Any) -> Standing:
    """Return how a watch stands in position, 12 of 60 strokes counted."""
    usual: dict[str, Any] = {
        "t_ns": 20 * NS_PER_S,
        "phase": Phase.IN_POSITION,
        "waiting": (),
        "sit_in_left_s": 0.0,
        "steady": 0,
        "needed": 5,
        "cue": None,
        "direction": "",
        "live": body(),
        "counted": 12,
        "counted_s": 8.0,
        "pending": 0,
        "goal": 60,
        "cadence_rpm": 90.2,
        "doubt": None,
    }
    return Standing(**{**usual, **changes})


def shown(stands: Standing | None) -> Shown:
    """Return a moment without a picture."""
    t_ns = 0 if stands is None else stands.t_ns
    return Shown(t_ns, None, 0, np.empty((0, 2)), None, stands)


def scene(stands: Standing | None = None, **changes: Any) -> Scene:
    """Return a scene of a watch at 100 s of the monotonic clock; by default it is starting."""
    usual: dict[str, Any] = {
        "monotonic_ns": 100 * NS_PER_S,
        "doing": Doing.WATCH,
        "state": EngineState.RUNNING,
        "error": "",
        "paused": "",
        "shown": None if stands is None else shown(stands),
        "said": (),
        "progress": (0, 0),
        "health": HealthMeter().read(),
        "switches": Switches(),
        "target": TARGET,
        "plan": WatchPlan(),
    }
    return Scene(**{**usual, **changes})


def power(watts: float) -> Said:
    """Return a power meter's reading."""
    return Said(Effort(0, watts, math.nan), ())
