"""The single reason why the stroke under way does or does not count, and what to do. Without Qt."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from posewatch.core.cues import LiveChannel, correction
from posewatch.core.doubts import Doubt
from posewatch.core.envelope import Target
from posewatch.core.intervals import MIN_RUN_STROKES
from posewatch.core.outputs import Phase, Reason
from posewatch.core.records import EFFORT_CHANNELS, NS_PER_S, Channel, Verdict
from posewatch.core.standing import Standing
from posewatch.core.timebase import to_s
from posewatch.core.watch_plan import WatchPlan
from posewatch.studio import Doing
from posewatch.ui.channel_words import (
    RESTLESS,
    limit_text,
    measured_text,
    off_words,
    sign_of,
    whole,
)
from posewatch.ui.health_view import is_silent, silence
from posewatch.ui.scene import Scene, SensorLine
from posewatch.ui.sensor_lines import rest

#: A line stays at least so long, unless a fault or the operator changes it.
KEPT_NS = 2 * NS_PER_S // 5


class Kind(StrEnum):
    """What sort of reason it is; each has a shape of its own."""

    COUNTS = "counts"
    SOON = "counts soon"
    OFF = "out of band"
    UNKNOWN = "not known"
    STOPPED = "stopped by people"
    FAULT = "fault"


@dataclass(frozen=True, slots=True)
class Line:
    """One sentence and what to do; {ACT} in it stands for the key of that act."""

    kind: Kind
    text: str
    todo: str = ""


@dataclass(frozen=True, slots=True)
class Settled:
    """The line that is shown, and since when."""

    line: Line
    since_ns: int


#: What goes on and loses the hold, most telling first.
WAITING = {
    Reason.CAMERA: (
        Kind.FAULT,
        "camera: no picture",
        "check its cable and plug; it is tried again by itself",
    ),
    Reason.VIEW_MOVED: (
        Kind.FAULT,
        "camera: its view has moved",
        "put it back as it was, or end and set it up anew",
    ),
    Reason.NOT_SEEN: (
        Kind.UNKNOWN,
        "rider not seen",
        "whole body in the picture, nothing in between",
    ),
    Reason.OUT_OF_SADDLE: (Kind.OFF, "out of the saddle", "once seated, the sit-in begins"),
    Reason.HAND_OFF: (Kind.OFF, "a hand is off its place", "hands back to their place"),
    Reason.BACK_PEDALLED: (Kind.OFF, "pedalling backwards", "pedal forwards"),
    Reason.COASTED: (Kind.OFF, "coasting", "pedal on"),
}
#: Why a value is not known.
UNKNOWN = {
    Reason.NOT_TURNING: ("the crank does not turn forward throughout", "pedal on evenly"),
    Reason.TOO_SLOW: ("too slow: a revolution takes over 1.5 s", "pedal faster than 40 rpm"),
    Reason.NOT_BELIEVED: ("not seen well enough for a whole stroke", "more light, nothing between"),
    Reason.HOLE: ("a gap in what was seen", "nothing may pass between camera and rider"),
    Reason.DISAGREE: ("the leg's joints do not belong together", "look at the crosses: kit, light"),
    Reason.NO_EFFORT: ("no reading from the sensor", "wake the sensor, check its battery"),
}
DOUBT_TODO = {
    Doubt.NOT_VISIBLE: "more light; nothing between camera and rider",
    Doubt.CUT_OFF: "move the camera back: whole body in the picture",
    Doubt.OFF_PICTURE: "turn the camera: whole body in the picture",
    Doubt.AT_AN_ANGLE: "the camera must look square at the rider's side",
    Doubt.NOBODY: "the rider must be in the picture",
}
KEPT_EVEN = "keep this position; counting comes by itself"


def reason(scene: Scene) -> Line:
    """Return the reason that holds now."""
    if scene.doing is Doing.WATCH:
        stands = scene.standing
        if stands is None:
            return Line(Kind.SOON, "getting ready", "the camera opens")
        return _of_watch(scene, stands)
    if scene.doing is Doing.CAPTURE:
        return Line(Kind.SOON, f"capturing{_of(scene.progress)}", KEPT_EVEN)
    if scene.error:
        return Line(Kind.FAULT, scene.error)
    if scene.doing is Doing.NOTHING:
        begins = "" if scene.target is None else "; key {BEGIN} begins the trial"
        return Line(Kind.STOPPED, "camera closed", "key {CAMERA} opens it" + begins)
    if scene.target is None:
        return Line(Kind.STOPPED, "no target chosen: nothing can be counted", "choose one first")
    return Line(Kind.SOON, "looking, not counting", "key {BEGIN} begins the trial")


def _of(progress: tuple[int, int]) -> str:
    done, expected = progress
    return f": {done} of {expected}" if expected else f": {done}"


def _of_watch(scene: Scene, stands: Standing) -> Line:
    if scene.paused or Reason.PAUSED in stands.waiting:
        rest = scene.paused == "rest"
        return Line(
            Kind.STOPPED,
            "rest" if rest else "paused",
            "key {REST} goes on" if rest else "key {PAUSE} goes on",
        )
    waiting = next((one for one in WAITING if one in stands.waiting), None)
    if waiting is not None:
        return _of_waiting(waiting, scene, stands)
    if stands.sit_in_left_s > 0:
        left = math.ceil(stands.sit_in_left_s)
        return Line(Kind.SOON, f"sit-in: {left} s", "stay seated and pedal on")
    if stands.reached:
        done = f"reached: {stands.counted} of {stands.goal} strokes"
        return Line(Kind.COUNTS, done, "key {END} ends the trial")
    required = [now for now in stands.live if now.value.required]
    unknown = next((now for now in required if now.value.verdict is Verdict.UNKNOWN), None)
    if unknown is not None or not required:
        return _of_unknown(unknown, stands, scene.sensors)
    out = [now for now in required if now.value.verdict is Verdict.OUT]
    if out and scene.target is not None:
        return _of_out(_furthest(out, stands.cue), scene.target, scene.plan)
    if stands.phase is not Phase.IN_POSITION:
        return Line(Kind.SOON, f"steadying: {stands.steady} of {stands.needed}", KEPT_EVEN)
    if stands.pending:
        run = f"run of {stands.pending}, counts from {MIN_RUN_STROKES}"
        return Line(Kind.SOON, run, KEPT_EVEN)
    return Line(Kind.COUNTS, "counts")


def _of_waiting(waiting: Reason, scene: Scene, stands: Standing) -> Line:
    kind, text, todo = WAITING[waiting]
    if kind is Kind.FAULT and scene.camera:
        todo = scene.camera
    if waiting is Reason.CAMERA and scene.shown is not None and scene.shown.picture is not None:
        gone_s = int(to_s(scene.shown.t_ns - scene.shown.picture.t_ns))
        text += f" since {gone_s} s" if gone_s else ""
    if waiting is Reason.NOT_SEEN and stands.doubt is not None:
        _, doubt = stands.doubt
        text, todo = f"{text}: {doubt.words}", DOUBT_TODO.get(doubt, todo)
    return Line(kind, text, todo)


def _of_unknown(
    unknown: LiveChannel | None, stands: Standing, sensors: tuple[SensorLine, ...]
) -> Line:
    why = Reason.NOT_TURNING if unknown is None else unknown.value.reason
    if why is Reason.NO_EFFORT and unknown is not None:
        return _of_no_effort(unknown.value.channel, sensors)
    if stands.doubt is not None and why in (None, Reason.NOT_BELIEVED, Reason.HOLE):
        joint, doubt = stands.doubt
        todo = DOUBT_TODO.get(doubt, "look at the crosses on the picture")
        return Line(Kind.UNKNOWN, f"{joint} unknown: {doubt.words}", todo)
    text, todo = UNKNOWN.get(why or Reason.NOT_BELIEVED, UNKNOWN[Reason.NOT_BELIEVED])
    return Line(Kind.UNKNOWN, text, todo)


def _of_no_effort(channel: Channel, sensors: tuple[SensorLine, ...]) -> Line:
    """Return why a channel of a sensor is not known: the silent sensor says it itself."""
    silent = (one for one in sensors if channel in one.gives and is_silent(one))
    line = next(silent, None)
    text, todo = UNKNOWN[Reason.NO_EFFORT]
    if line is not None:
        text = f"{line.name} {line.state}" if line.state else f"{silence(line)} from {line.name}"
        todo = rest(line.text) or todo
    return Line(Kind.UNKNOWN, f"{channel} unknown: {text}", todo)


def _furthest(out: list[LiveChannel], cue: Channel | None) -> LiveChannel:
    """Return what the rider is told about, else what is furthest out."""
    told = next((now for now in out if now.value.channel is cue), None)
    return told or max(out, key=lambda now: abs(now.value.deviation) / now.tol)


def _of_out(now: LiveChannel, target: Target, plan: WatchPlan) -> Line:
    value, channel = now.value, now.value.channel
    if channel in EFFORT_CHANNELS:
        return _of_effort(now, plan)
    unit = target.envelope(channel).unit
    limit = limit_text(channel, unit, now.tol)
    todo = f'the way back: "{correction(value)}"'
    if value.restless:
        return Line(Kind.OFF, f"{channel} {RESTLESS} within the stroke", todo)
    size = abs(value.deviation)
    number = abs(whole(size, unit))
    if number > now.tol * unit.nominal:
        text = f"{channel} {number}{sign_of(channel, unit)} {off_words(value)} (limit {limit})"
    elif size > now.tol:
        text = f"{channel} {off_words(value)}: just over {limit}"
    else:
        text = f"{channel} {off_words(value)}: not yet back inside "
        # Rounded inwards: whoever is there is back.
        inner = math.floor(10.0 * now.inner * unit.nominal) / 10.0
        text += f"{inner:g}{sign_of(channel, unit)}"
    return Line(Kind.OFF, text, todo)


def _of_effort(now: LiveChannel, plan: WatchPlan) -> Line:
    """Return how effort is off: as it is, beside what is planned."""
    channel, planned = now.value.channel, plan.effort_centre(now.value.channel) or 0.0
    limit = limit_text(channel, None, now.tol)
    text = (
        f"{channel} {off_words(now.value)}: {measured_text(channel, planned + now.value.deviation)}"
        f", planned {planned:g} \N{PLUS-MINUS SIGN}{limit}"
    )
    if not plan.asks_for(channel):
        return Line(Kind.OFF, text, "the trainer is to hold it; key {HOLD}")
    return Line(Kind.OFF, text, f'the way back: "{correction(now.value)}"')


def settle(before: Settled | None, line: Line, now_ns: int) -> Settled:
    """Return the line to show: one that would change faster than people read waits."""
    if before is not None and before.line == line:
        return before
    at_once = before is None or Kind.FAULT in (line.kind, before.line.kind)
    at_once = at_once or line.kind is Kind.STOPPED
    if before is None or at_once or now_ns - before.since_ns >= KEPT_NS:
        return Settled(line, now_ns)
    return before
