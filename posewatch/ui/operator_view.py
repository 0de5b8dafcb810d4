"""What the operator's window says in large: how things stand, clocks, counts and yield.

Without Qt.
"""

from __future__ import annotations

from enum import StrEnum

from posewatch.core.outputs import (
    CadenceDiffers,
    Output,
    Phase,
    Reason,
    SmoothnessFlag,
    SmoothnessMean,
)
from posewatch.core.records import NS_PER_S
from posewatch.core.smoothness import HIDES_ONE_LEG
from posewatch.core.standing import Standing
from posewatch.core.watch_plan import WatchPlan
from posewatch.core.yield_loss import Advice, YieldState
from posewatch.runtime.engine import EngineState
from posewatch.studio import Doing
from posewatch.ui.channel_words import NOT_KNOWN, OFF_WORDS, limit_text
from posewatch.ui.health_view import SIGNS, Level
from posewatch.ui.readings import PowerShown, of_plan, whole
from posewatch.ui.scene import Scene, SensorLine, Switches

#: A share of fewer strokes than this says nothing yet.
SHARE_FROM = 10


class State(StrEnum):
    """The one word for how things stand; each has a frame of its own."""

    CURTAIN = "camera closed"
    LOOKING = "looking"
    ARMED = "armed"
    CAPTURING = "capturing"
    RESET = "reset"
    SIT_IN = "sit-in"
    STEADYING = "steadying"
    COUNTING = "counting"
    PAUSED = "paused"
    REST = "rest"
    REACHED = "reached"
    FAULT = "fault"


#: Power that is not both legs' at the cranks is labelled so.
POWER_LABELS = ("one side", "at the wheel")
#: What the camera has to do with.
FAULTS = frozenset({Reason.CAMERA, Reason.VIEW_MOVED})


def state_of(scene: Scene) -> State:
    """Return how things stand."""
    if scene.doing is Doing.NOTHING:
        return State.FAULT if scene.error else State.CURTAIN
    if scene.state is EngineState.FAULTED:
        return State.FAULT
    if scene.doing is Doing.CAPTURE:
        return State.CAPTURING
    if scene.doing is Doing.PREVIEW:
        return State.LOOKING if scene.target is None else State.ARMED
    stands = scene.standing
    if scene.paused:
        return State.REST if scene.paused == "rest" else State.PAUSED
    if stands is None:
        return State.ARMED
    if FAULTS & set(stands.waiting):
        return State.FAULT
    if stands.reached:
        return State.REACHED
    if scene.reset is not None and scene.reset.left_s > 0:
        return State.RESET
    if stands.phase is Phase.IN_POSITION:
        return State.COUNTING
    return State.SIT_IN if stands.phase is Phase.SIT_IN else State.STEADYING


def clock(ns: int) -> str:
    """Return a span as m:ss, or h:mm:ss from an hour on."""
    seconds = max(0, ns) // NS_PER_S
    hours, minutes = seconds // 3600, seconds // 60 % 60
    return (f"{hours}:{minutes:02d}" if hours else f"{minutes}") + f":{seconds % 60:02d}"


def counts(stands: Standing | None) -> tuple[str, str]:
    """Return the counted strokes of the goal, and what is pending."""
    if stands is None:
        return NOT_KNOWN, "strokes counted"
    below = f"strokes, {stands.pending} pending" if stands.pending else "strokes counted"
    return f"{stands.counted} of {stands.goal}", below


def seconds(stands: Standing | None) -> str:
    """Return the counted seconds."""
    return NOT_KNOWN if stands is None else f"{stands.counted_s:.0f} s"


def cadence(stands: Standing | None, plan: WatchPlan) -> tuple[str, str]:
    """Return the cadence of the last stroke, and what is planned."""
    below = of_plan(plan.cadence_rpm, "rpm")
    return (NOT_KNOWN if stands is None else whole(stands.cadence_rpm)), below


def power(
    shown: PowerShown, plan: WatchPlan, sensors: tuple[SensorLine, ...]
) -> tuple[str, str] | None:
    """Return the power, what is planned and whose it is; None = there is no power to show."""
    if not shown.ever and plan.power_w is None:
        return None
    parts = (of_plan(plan.power_w, "W"), power_label(sensors))
    return whole(shown.watts), ", ".join(filter(None, parts))


def power_label(sensors: tuple[SensorLine, ...]) -> str:
    """Say what must be known of where the power is measured; empty = nothing, or not known."""
    sources = [one.whose for one in sensors if one.whose]
    if len(sources) > 1:
        return "two sides added"
    whose = "".join(sources)
    return next((label for label in POWER_LABELS if label in whose), "")


def notes(flags: tuple[str, ...], means: tuple[SmoothnessMean, ...]) -> str:
    """Say how the trial is flagged, and how smoothly the last half minute was driven."""
    lines = []
    if flags:
        told = ", ".join(flags)
        lines.append(f"{SIGNS[Level.WARN]} this trial is flagged: {told}; it counts all the same")
    if means:
        told = ", ".join(f"{one.figure} {one.mean_pct:.0f} %" for one in means)
        legs = "of one leg" if all(one.per_leg for one in means) else HIDES_ONE_LEG
        lines.append(f"{told}; {legs}")
    return "\n".join(lines)


def flag_of(output: Output) -> str:
    """Return how an output flags its trial, empty = it does not."""
    if isinstance(output, CadenceDiffers):
        return "sensor's cadence differs"
    return f"unsteady {output.measure}" if isinstance(output, SmoothnessFlag) else ""


def yield_text(state: YieldState | None) -> tuple[str, str]:
    """Return the yield so far and of how many strokes."""
    if state is None or not state.n_ridden:
        return NOT_KNOWN, "yield"
    below = f"yield of {state.n_ridden} ridden"
    if state.n_ridden < SHARE_FROM:
        return NOT_KNOWN, below
    return f"{100 * state.share:.0f} %", below


def switch_words(switches: Switches) -> str:
    """Say what the rider gets besides strokes that count: cues, tones, words."""
    sound = "no sound device" if switches.no_sound else "sound" if switches.sound else "sound off"
    words = ["cues" if switches.cues else "cues off", sound]
    if switches.speech and switches.sound and not switches.no_sound:
        words.append("spoken")
    return ", ".join(words)


def advice_text(advice: Advice | None) -> str:
    """Say which band costs most and what would help; empty = nothing to say."""
    if advice is None:
        return ""
    if advice.channel is None:
        return (
            f"not knowing costs most: {advice.n_unknown} of {advice.n_lost} strokes lost were not "
            "known; light, whole body in the picture, nothing in between"
        )
    channel = advice.channel
    of = f"of {advice.n_lost} strokes lost"
    if not advice.n_alone:
        return (
            f"{channel} costs most: {of}, it was out in {advice.n_out}, never alone; "
            "one wider band would not help"
        )
    text = f"{channel} costs most: {of}, {advice.n_alone} by it alone"
    if channel in OFF_WORDS and 2 * advice.n_restless < advice.n_alone:
        text += f", mostly {OFF_WORDS[channel][0 if advice.off > 0 else 1]}"
    if advice.wider is not None:
        wider = limit_text(channel, advice.unit, advice.wider)
        tol = limit_text(channel, advice.unit, advice.tol)
        return f"{text}; at {wider} instead of {tol}, {advice.n_gained} more would be good"
    if 2 * advice.n_restless >= advice.n_alone:
        return f"{text}, by movement within the stroke, which no wider band lets pass"
    if advice.unit is None:
        return f"{text}; plan what the rider can hold"
    return f"{text}; a band half as wide again would not help"
