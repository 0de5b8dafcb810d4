"""How far a capture has come: usable strokes by sit, counted picture by picture as they come.

There is no target yet, so that nothing is judged: a stroke is usable if it was seen and turned at
a pace that a capture takes. Turns are those of the crank's reading, which holds the near ankle
against the circle through its first turn; without a map it is some 8 degrees off within a stroke,
always the same from turn to turn, which moves where a stroke begins and not how many there are.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from posewatch.core import gross_events
from posewatch.core.capture import MIN_STROKES, MIN_STROKES_A_SIT
from posewatch.core.doubts import Doubt
from posewatch.core.envelope import NOMINAL_THIGH_MM, SITS_WANTED
from posewatch.core.gross_events import OFF_SADDLE_ALONG_MM, OFF_SADDLE_UP_MM, GrossState, Moment
from posewatch.core.landmarks import HIP, KNEE
from posewatch.core.outputs import Reason
from posewatch.core.pedal_circle import TURN
from posewatch.core.records import NS_PER_S
from posewatch.core.sits import SHORTEST_SIT
from posewatch.core.strokes import MIN_BELIEVED_SHARE
from posewatch.core.tracking import Tracked

STROKES_WANTED = SITS_WANTED * MIN_STROKES_A_SIT
#: 120 to 57 rpm: what is asked for is 60 to 110, and a stroke's time is seen to some 3 %.
FASTEST_NS = int(0.5 * NS_PER_S)
SLOWEST_NS = int(1.05 * NS_PER_S)
PACE_WORDS = "60 to 110"
#: A usable stroke so long ago no longer says that strokes are being counted.
FRESH_NS = int(1.5 * NS_PER_S)
#: A reason stays at least so long, to be read.
WHY_KEPT_NS = int(0.6 * NS_PER_S)
#: Doubts about the whole rider, said without the joint that happened to be looked at first.
_OF_ALL = frozenset(
    {
        Doubt.NOBODY,
        Doubt.CUT_OFF,
        Doubt.OTHER_WAY,
        Doubt.OFF_REGION,
        Doubt.NOT_PEDALLING,
        Doubt.AT_AN_ANGLE,
    }
)
#: The place where the rider sits follows a stroke's mean by this share, the thigh a picture's.
PLACE_GAIN = 0.25
THIGH_GAIN = 0.05


@dataclass(frozen=True, slots=True)
class _Stroke:
    """The turn under way: its number, its beginning (None before the first top), what was seen.

    clean: nothing happened in it. doubt: the last joint that was not believed, and why.
    hip_x, hip_y: sums over n_hips pictures.
    """

    turn: int
    start_ns: int | None
    n_pictures: int = 0
    n_believed: int = 0
    n_hips: int = 0
    hip_x: float = 0.0
    hip_y: float = 0.0
    clean: bool = True
    doubt: str = ""


@dataclass(frozen=True, slots=True)
class CaptureProgress:
    """Counts so far.

    sits: usable strokes of each sit, the last one under way; a sit too short to have a mean of its
    own leaves nothing behind, and the first stroke after sitting down is not counted. why: why
    nothing is being counted, for people; empty = strokes are.
    """

    sits: tuple[int, ...] = (0,)
    why: str = ""
    _gross: GrossState = GrossState()
    _stroke: _Stroke | None = None
    _place: tuple[float, float] | None = None
    _thigh: float = math.nan
    _last: tuple[int, float] | None = None
    _usable_ns: int | None = None
    _failed: str = ""
    _settling: bool = False
    _why_ns: int | None = None

    @property
    def n_strokes(self) -> int:
        """Usable strokes of all sits."""
        return sum(self.sits)

    @property
    def has_all_sits(self) -> bool:
        """Whether there is what tells how far a fresh sit moves a channel."""
        return sum(n >= MIN_STROKES_A_SIT for n in self.sits) >= SITS_WANTED

    @property
    def is_enough(self) -> bool:
        """Whether a target can come of it, be it of one sit."""
        return self.has_all_sits or self.n_strokes >= MIN_STROKES


def start() -> CaptureProgress:
    """Return the count before the first picture."""
    return CaptureProgress()


def step(state: CaptureProgress, tracked: Tracked) -> CaptureProgress:
    """Take in one picture's tracking; times rise."""
    state = replace(state, _thigh=_follow_thigh(state._thigh, tracked))
    gross, changes = gross_events.step(state._gross, _moment(state, tracked))
    state = replace(state, _gross=gross)
    if any(c.reason is Reason.OUT_OF_SADDLE and c.begins for c in changes):
        state = replace(state, sits=_closed(state.sits), _settling=True)
    state = _turn(state, tracked, clean=not changes and not gross.under_way)
    return _explain(state, tracked)


def _follow_thigh(thigh: float, tracked: Tracked) -> float:
    if not tracked.body.seen:
        return thigh
    points = tracked.body.points
    seen = math.dist(points[HIP].tolist(), points[KNEE].tolist())
    return seen if math.isnan(thigh) else thigh + THIGH_GAIN * (seen - thigh)


def _moment(state: CaptureProgress, tracked: Tracked) -> Moment:
    """Return a picture's evidence; places in nominal mm from where the rider sits."""
    along = up = math.nan
    if state._place is not None:
        scale = NOMINAL_THIGH_MM / state._thigh
        x, y = tracked.body.hip.tolist()
        along, up = scale * (x - state._place[0]), scale * (y - state._place[1])
    speed = tracked.crank.speed_rad_s if tracked.crank.known else math.nan
    return Moment(tracked.t_ns, tracked.body.seen, along, up, math.nan, speed)


def _closed(sits: tuple[int, ...]) -> tuple[int, ...]:
    """Return the sits with a new one begun."""
    return (*(sits if sits[-1] >= SHORTEST_SIT else sits[:-1]), 0)


def _turn(state: CaptureProgress, tracked: Tracked, clean: bool) -> CaptureProgress:
    """Add the picture to the stroke under way, and count the stroke that ended with it."""
    reading = tracked.crank
    if not reading.known:
        return replace(state, _stroke=None, _last=None)
    turn = math.floor(reading.angle_rad / TURN)
    stroke = state._stroke
    if stroke is None or state._last is None or turn < stroke.turn:
        # Back-pedalling over a top: what is under way is no whole stroke any more.
        stroke = _Stroke(turn, None)
    elif turn > stroke.turn:
        top_ns = _top_ns(state._last, tracked.t_ns, reading.angle_rad)
        if stroke.start_ns is not None:
            whole = turn == stroke.turn + 1
            state = _ended(state, stroke, top_ns - stroke.start_ns, tracked.t_ns, whole)
        stroke = _Stroke(turn, top_ns)
    return replace(
        state, _stroke=_seen(stroke, tracked, clean), _last=(tracked.t_ns, reading.angle_rad)
    )


def _top_ns(last: tuple[int, float], t_ns: int, angle_rad: float) -> int:
    """Return when the crank was at the last top before an angle, interpolated."""
    last_ns, last_rad = last
    behind = math.fmod(angle_rad, TURN) % TURN
    return t_ns - round((t_ns - last_ns) * min(1.0, behind / (angle_rad - last_rad)))


def _seen(stroke: _Stroke, tracked: Tracked, clean: bool) -> _Stroke:
    body = tracked.body
    x, y = body.hip.tolist()
    has_hip = not math.isnan(x)
    return _Stroke(
        stroke.turn,
        stroke.start_ns,
        stroke.n_pictures + 1,
        stroke.n_believed + body.seen,
        stroke.n_hips + has_hip,
        stroke.hip_x + (x if has_hip else 0.0),
        stroke.hip_y + (y if has_hip else 0.0),
        stroke.clean and clean,
        stroke.doubt if body.seen else _doubt_words(tracked),
    )


def _ended(
    state: CaptureProgress, stroke: _Stroke, took_ns: int, t_ns: int, whole: bool
) -> CaptureProgress:
    """Count a stroke if it is usable, and follow where the rider sits."""
    n = stroke.n_pictures
    state = replace(state, _failed="")
    hip = (stroke.hip_x / stroke.n_hips, stroke.hip_y / stroke.n_hips) if stroke.n_hips else None
    if hip is not None and stroke.n_hips >= MIN_BELIEVED_SHARE * n and _sits_at_last(state, hip):
        return replace(state, sits=(0,), _gross=GrossState(), _place=hip)
    if not (stroke.clean and whole):
        return state
    if not FASTEST_NS <= took_ns <= SLOWEST_NS:
        rpm = 60.0 * NS_PER_S / took_ns
        return replace(state, _failed=f"cadence {rpm:.0f} rpm, wanted {PACE_WORDS}")
    if stroke.n_believed < MIN_BELIEVED_SHARE * n or hip is None:
        return replace(state, _failed=stroke.doubt)
    if state._settling:  # the first stroke after sitting down; hands and back come to rest in it
        return replace(state, _settling=False, _usable_ns=t_ns)
    x, y = hip if state._place is None else state._place
    place = (x + PLACE_GAIN * (hip[0] - x), y + PLACE_GAIN * (hip[1] - y))
    sits = (*state.sits[:-1], state.sits[-1] + 1)
    return replace(state, sits=sits, _place=place, _usable_ns=t_ns)


def _sits_at_last(state: CaptureProgress, hip: tuple[float, float]) -> bool:
    """Tell whether the hip is so far below or behind its place that nobody has sat there."""
    if state._place is None:
        return False
    scale = NOMINAL_THIGH_MM / state._thigh
    behind, below = (scale * (was - now) for was, now in zip(state._place, hip, strict=True))
    return below > OFF_SADDLE_UP_MM or behind > OFF_SADDLE_ALONG_MM


def _explain(state: CaptureProgress, tracked: Tracked) -> CaptureProgress:
    """Say why nothing is counted, no other reason sooner than one can be read."""
    why, t_ns = _why(state, tracked), tracked.t_ns
    if why == state.why or (state._why_ns is not None and t_ns - state._why_ns < WHY_KEPT_NS):
        return state
    return replace(state, why=why, _why_ns=t_ns)


def _why(state: CaptureProgress, tracked: Tracked) -> str:
    if state._gross.off_saddle.active:
        return str(Reason.OUT_OF_SADDLE)
    usable_ns = state._usable_ns
    fresh = usable_ns is not None and tracked.t_ns - usable_ns <= FRESH_NS
    if state._gross.stopped is not None:
        return f"not pedalling: {state._gross.stopped}"
    if fresh and not state._gross.not_seen:
        return ""
    if not tracked.body.seen:
        return _doubt_words(tracked)
    if not tracked.crank.known:
        return "not pedalling, or no whole turn of it seen yet"
    if state._failed:
        return state._failed
    rpm = 60.0 * tracked.crank.speed_rad_s / TURN
    # A turn so slow takes long to end, and says nothing until then.
    slow = usable_ns is not None and rpm < 60.0 * NS_PER_S / SLOWEST_NS
    return f"cadence {rpm:.0f} rpm, wanted {PACE_WORDS}" if slow else ""


def _doubt_words(tracked: Tracked) -> str:
    found = tracked.body.doubt()
    if found is None:
        return ""
    if bool((tracked.body.doubts == Doubt.NOT_VISIBLE).all()):
        return Doubt.NOBODY.words
    joint, doubt = found
    return doubt.words if doubt in _OF_ALL else f"{joint}: {doubt.words}"
