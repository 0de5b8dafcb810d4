"""A rider given by deviations alone: targets, moments and strokes without a camera.

What is judged here is exactly what a test states; nothing is measured, so nothing is noisy.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator

import numpy as np
from linkage_rider import CHAIN, LEG

from posewatch.core import judge
from posewatch.core.channels import N_COLUMNS
from posewatch.core.envelope import (
    ADVISORY_BY_DEFAULT,
    ANGLE_CHANNELS,
    DEFAULT_TOLERANCE,
    SHAPE_REQUIRED_BY_DEFAULT,
    Envelope,
    LengthUnit,
    Segments,
    Target,
    Unit,
)
from posewatch.core.gross_events import Change
from posewatch.core.hold import Stroke
from posewatch.core.judge import JudgeState, Observation, Task
from posewatch.core.outputs import ChannelValue, HoldLost, Output, Reason
from posewatch.core.pedal_circle import NO_MAP, TURN, CrankGeometry
from posewatch.core.records import (
    BODY_CHANNELS,
    Channel,
    Effort,
    FloatArray,
    Side,
    Tick,
    Verdict,
)
from posewatch.core.timebase import to_ns
from posewatch.core.watch_plan import WatchPlan

STROKE_SD = {Unit.DEG: 0.2, Unit.THIGH: 0.001, Unit.MM: 0.43}
SHAPE_LIMIT = {Unit.DEG: 1.0, Unit.THIGH: 0.02, Unit.MM: 8.6}
#: Columns of a deviation, by name; the last two are the leg's chain's, as a check.
TORSO, KNEE, HIP, SITTING, HEIGHT, HAND_ALONG, HAND_UP, CHAIN_KNEE, CHAIN_HIP = range(N_COLUMNS)
CHECK_OF = {KNEE: CHAIN_KNEE, HIP: CHAIN_HIP}

Away = Callable[[float, float], FloatArray | None]
JudgeInput = Observation | Effort | Tick | Change


def envelope(
    channel: Channel, stroke_sd: float | None = None, place_unit: Unit = Unit.THIGH
) -> Envelope:
    """Return a channel's envelope with the default limits around a centre of zero."""
    unit = Unit.DEG if channel in ANGLE_CHANNELS else place_unit
    tol = DEFAULT_TOLERANCE[channel] / unit.nominal
    curves = 2 if channel is Channel.HAND_PLACE else 1
    return Envelope(
        channel,
        unit,
        tol,
        channel not in ADVISORY_BY_DEFAULT,
        STROKE_SD[unit] if stroke_sd is None else stroke_sd,
        0.0,
        None,
        SHAPE_LIMIT[unit],
        channel in SHAPE_REQUIRED_BY_DEFAULT,
        ((0.0,) * 13,) * curves,
    )


def target(length_unit: LengthUnit = LengthUnit.PX) -> Target:
    """Return a target whose centres are all zero."""
    place_unit = Unit.MM if length_unit is LengthUnit.MM else Unit.THIGH
    return Target(
        "rider",
        "bike",
        "hoods",
        1,
        CHAIN,
        Side.RIGHT,
        tuple(envelope(channel, place_unit=place_unit) for channel in BODY_CHANNELS),
        length_unit,
        CrankGeometry(0.0, 0.0, 42.0, NO_MAP),
        LEG,
        Segments(128.0, 108.0, 109.0),
        (40,),
        0,
        90.0,
    )


def task(plan: WatchPlan | None = None, length_unit: LengthUnit = LengthUnit.PX) -> Task:
    """Return the task of holding that target."""
    return Task(target(length_unit), WatchPlan() if plan is None else plan)


def off(column: int, value: float) -> FloatArray:
    """Return deviations that are zero but in one column, and its check where it has one."""
    deviations = np.zeros(N_COLUMNS)
    deviations[[column, CHECK_OF.get(column, column)]] = value
    return deviations


def pedal(
    seconds: float,
    away: Away | None = None,
    rpm: float = 90.0,
    rate_hz: float = 30.0,
    start_s: float = 0.0,
    start_turns: float = 0.0,
) -> Iterator[Observation]:
    """Pedal evenly; away(t_s, turns) gives the deviations, None = this moment is not believed.

    t_s counts from start_s, turns from the crank's first top.
    """
    for index in range(round(seconds * rate_hz)):
        t_s = index / rate_hz
        turns = start_turns + rpm / 60.0 * t_s
        deviations = np.zeros(N_COLUMNS) if away is None else away(t_s, turns)
        seen = deviations is not None
        yield Observation(
            to_ns(start_s + t_s),
            seen,
            TURN * turns,
            TURN * rpm / 60.0,
            np.full(N_COLUMNS, math.nan) if deviations is None else deviations,
        )


def take(held: Task, state: JudgeState, new: JudgeInput) -> judge.Step:
    """Give the judgement one input of any kind."""
    if isinstance(new, Observation):
        return judge.observe(held, state, new)
    if isinstance(new, Effort):
        return judge.take_effort(held, state, new)
    if isinstance(new, Change):
        return judge.interrupt(held, state, new)
    return judge.tick(held, state, new.t_ns)


def watch(held: Task, inputs: Iterable[JudgeInput]) -> tuple[JudgeState, list[Output]]:
    """Judge all inputs and end the run under way."""
    state = JudgeState()
    outputs: list[Output] = []
    for new in inputs:
        state, found = take(held, state, new)
        outputs += found
    state, found = judge.finish(state)
    return state, [*outputs, *found]


def value(channel: Channel, deviation: float, verdict: Verdict = Verdict.OUT) -> ChannelValue:
    """Return one channel's stroke value."""
    return ChannelValue(channel, deviation, 0.0, verdict, True)


#: Strokes in one letter: good, out by position, out by effort, unknown for 0.6 s, and for 1 s.
LETTERS = {
    "g": (Verdict.GOOD, ()),
    "o": (Verdict.OUT, (value(Channel.TORSO, 4.0),)),
    "k": (Verdict.OUT, (value(Channel.KNEE, -5.0),)),
    "e": (Verdict.OUT, (value(Channel.POWER, -30.0),)),
    "u": (Verdict.UNKNOWN, ()),
    "U": (Verdict.UNKNOWN, ()),
}


def strokes(letters: str, start_ns: int = 0, seconds: float = 0.6) -> Iterator[Stroke]:
    """Return adjacent strokes, one a letter of LETTERS; "U" takes a whole second."""
    for letter in letters:
        verdict, channels = LETTERS[letter]
        end_ns = start_ns + to_ns(1.0 if letter == "U" else seconds)
        yield Stroke(start_ns, end_ns, verdict, channels)
        start_ns = end_ns


def reasons(outputs: Iterable[Output]) -> list[Reason]:
    """Return why the hold was lost, each time it was."""
    return [o.reason for o in outputs if isinstance(o, HoldLost)]
