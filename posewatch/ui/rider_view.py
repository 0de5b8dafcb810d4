"""What the rider's window shows at one moment: decided here, painted elsewhere. Without Qt.

No name of an item, a rider or a target and no result ever gets in here: a rider who knows what is
compared rides otherwise.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from enum import StrEnum

from posewatch.core.cues import FOLLOWING, LEADING, LiveChannel
from posewatch.core.outputs import Phase, Reason
from posewatch.core.records import NS_PER_S, Channel, Side
from posewatch.core.standing import Standing
from posewatch.studio import Doing
from posewatch.ui import ways
from posewatch.ui.readings import NO_NUMBER, NO_POWER, Number, PowerShown, numbers, take_power
from posewatch.ui.scene import Scene
from posewatch.ui.tray import NO_BEADS, Beads, TrayMemory, fill
from posewatch.ui.ways import Way

#: What is shown stays at least so long.
KEPT_NS = NS_PER_S // 3
#: The mark goes towards its place by the share 1 - 1/e in this time; nearer than this it is there.
MARK_S = 0.12
THERE = 0.004
#: Off by this many tolerances, the mark is at the end of its reach.
FURTHEST = 2.0
#: While coaching, another channel takes over once it is so much further off than the one followed.
TAKES_OVER = 1.25


class Kind(StrEnum):
    """Which of its pictures the window shows."""

    CURTAIN = "curtain"
    READY = "ready"
    REST = "rest"
    WAIT = "wait"
    RESET = "reset"
    SIT_IN = "sit-in"
    COACH = "coach"
    QUIET = "quiet"
    REACHED = "reached"


@dataclass(frozen=True, slots=True)
class Face:
    """What may change only a few times a second.

    words: the one line. way: of the arrow, None = no correction. follows: the channel that moves
    the mark, None = it rests. hatched: what would be shown is not known.
    """

    kind: Kind
    words: str
    way: Way | None = None
    follows: Channel | None = None
    hatched: bool = False


@dataclass(frozen=True, slots=True)
class RiderView:
    """What is shown. Two equal ones look the same.

    along, up, tilt: the mark's place beside its nest, -1 to 1 of its reach; along > 0 in the
    direction of travel, up > 0 upwards, tilt > 0 the front too low. faces: 1 = travel to the
    right. lit, needed: parts of the nest. seconds: of the sit-in or a step of the reset, None = it
    is neither. counted, goal: strokes, as ``told`` says them.
    """

    face: Face
    along: float = 0.0
    up: float = 0.0
    tilt: float = 0.0
    faces: int = 1
    lit: int = 0
    needed: int = 1
    seconds: int | None = None
    beads: Beads = NO_BEADS
    counted: int = 0
    goal: int = 0
    numbers: tuple[Number, ...] = ()
    no_sound: bool = False

    @property
    def told(self) -> str:
        """The same in words, for whoever cannot see it."""
        said = [self.face.words]
        if self.seconds is not None:
            said.append(f"{self.seconds} seconds left")
        if self.face.kind is Kind.COACH and self.face.way is None and not self.face.hatched:
            said.append(f"{self.lit} of {self.needed} good strokes")
        if self.goal:
            said.append(f"{self.counted} of {self.goal} strokes counted")
        said += [f"{number.text} {number.unit}" for number in self.numbers if number.text]
        return "; ".join(said + ["no sound"] * self.no_sound)


@dataclass(frozen=True, slots=True)
class RiderMemory:
    """What is remembered from scene to scene; place is the mark's along, up and tilt."""

    now_ns: int = 0
    face: Face = Face(Kind.CURTAIN, ways.CLOSED)
    face_since_ns: int | None = None
    place: tuple[float, float, float] = (0.0, 0.0, 0.0)
    watch_ns: int = -1
    tray: TrayMemory = field(default_factory=TrayMemory)
    power: PowerShown = NO_POWER


def rider_view(scene: Scene, before: RiderMemory) -> tuple[RiderMemory, RiderView]:
    """Return what the rider's window shows now, and what to remember for the next scene."""
    now_ns, stands = scene.monotonic_ns, scene.standing
    if stands is None or stands.t_ns < before.watch_ns:
        before = replace(before, tray=TrayMemory(), power=NO_POWER)
    wanted = _face(scene, before.face)
    since_ns, face = before.face_since_ns, before.face
    if since_ns is None or (wanted != face and now_ns - since_ns >= KEPT_NS):
        since_ns, face = now_ns, wanted
    place = _towards(before.place, _place(face, stands), (now_ns - before.now_ns) / NS_PER_S)
    counted = 0 if stands is None else stands.counted
    tray, beads = fill(before.tray, counted, 0 if stands is None else stands.goal, now_ns)
    power = take_power(before.power, scene.said, now_ns)
    memory = RiderMemory(
        now_ns,
        face,
        since_ns,
        place,
        -1 if stands is None else stands.t_ns,
        tray,
        power,
    )
    along, up, tilt = (round(part, 3) for part in place)
    view = RiderView(
        face,
        along,
        up,
        tilt,
        -1 if scene.target is not None and scene.target.side is Side.LEFT else 1,
        no_sound=bool(scene.switches.no_sound),
    )
    if stands is None:
        return memory, view
    off = None if face.way is None else face.follows
    read = numbers(stands, power, scene.plan, off)
    if face.kind not in (Kind.COACH, Kind.QUIET, Kind.REACHED):
        # Their places stay free, so that nothing moves when they come back.
        read = (NO_NUMBER,) * len(read)
    return memory, replace(
        view,
        lit=_lit(face.kind, stands),
        needed=stands.needed,
        seconds=_seconds(face.kind, scene, stands),
        beads=beads,
        counted=tray.counted,
        goal=stands.goal,
        numbers=read,
    )


def _face(scene: Scene, shown: Face) -> Face:
    """Return what would be shown if nothing had to stay."""
    stands = scene.standing
    if scene.doing is Doing.NOTHING:
        return Face(Kind.CURTAIN, ways.CLOSED)
    if scene.doing is not Doing.WATCH:
        looking = scene.doing is Doing.PREVIEW
        return Face(Kind.READY, ways.OPEN if looking else ways.KEEP_RIDING)
    if scene.paused or (stands is not None and Reason.PAUSED in stands.waiting):
        return Face(Kind.REST, ways.REST if scene.paused == ways.REST else ways.PAUSE)
    if stands is None:
        return Face(Kind.READY, ways.GETTING_READY)
    if stands.reached:
        return Face(Kind.REACHED, ways.REACHED)
    if scene.reset is not None:
        return Face(Kind.RESET, scene.reset.words)
    corrects = scene.switches.cues
    reason = next((one for one in ways.WAITING if one in stands.waiting), None)
    if reason is not None:
        words, is_cameras = ways.WAITING[reason]
        return Face(Kind.WAIT, words if corrects or is_cameras else ways.WAIT, hatched=is_cameras)
    if stands.sit_in_left_s > 0:
        return Face(Kind.SIT_IN, ways.SETTLE)
    if corrects and stands.cue is not None:
        kind = Kind.QUIET if stands.phase is Phase.IN_POSITION else Kind.COACH
        return Face(kind, stands.direction, ways.WAYS[stands.direction], stands.cue)
    if stands.phase is Phase.IN_POSITION:
        return Face(Kind.QUIET, ways.IN_POSITION)
    return _coach(stands.live, corrects, shown.follows)


def _coach(live: tuple[LiveChannel, ...], corrects: bool, followed: Channel | None) -> Face:
    """Return what is shown before the hold stands, while nothing needs words."""
    required = [now for now in live if now.value.required]
    unknown = next((now.value for now in required if math.isnan(now.value.deviation)), None)
    if unknown is not None or not required:
        reason = Reason.NOT_TURNING if unknown is None else unknown.reason
        words = ways.UNKNOWN_OTHERWISE
        if reason is not None:
            words = ways.UNKNOWN.get(reason, ways.UNKNOWN_OTHERWISE)
        return Face(Kind.COACH, words, hatched=True)
    return Face(Kind.COACH, ways.STEADY, follows=_matters_most(required, followed, corrects))


def _matters_most(
    required: list[LiveChannel], followed: Channel | None, corrects: bool
) -> Channel | None:
    """Return the channel that is furthest off; while what leads is out, none that follows."""
    if not corrects:
        return None
    off = {now.value.channel: abs(now.value.deviation) / now.tol for now in required}
    if any(off[channel] > 1.0 for channel in LEADING if channel in off):
        off = {channel: size for channel, size in off.items() if channel not in FOLLOWING}
    most = max(off, key=lambda channel: off[channel])
    if followed in off and off[most] < TAKES_OVER * off[followed]:
        return followed
    return most


def _place(face: Face, stands: Standing | None) -> tuple[float, float, float] | None:
    """Return where the mark belongs, None = not known: where it is."""
    if face.words == ways.SIT_DOWN:
        return 0.0, 1.0, 0.0
    if face.follows is None or stands is None:
        return 0.0, 0.0, 0.0
    now = next((one for one in stands.live if one.value.channel is face.follows), None)
    if now is None or math.isnan(now.value.deviation):
        return None
    way = face.way or ways.way_back(now)
    if way.part is ways.Part.EFFORT:
        return 0.0, 0.0, 0.0
    size = min(ways.off_along(now, way) / FURTHEST, 1.0)
    return -way.along * size, -way.up * size, -way.tilt * size


def _towards(
    place: tuple[float, float, float], goal: tuple[float, float, float] | None, dt_s: float
) -> tuple[float, float, float]:
    """Let the mark glide to where it belongs."""
    if goal is None:
        return place
    share = 1.0 - math.exp(-dt_s / MARK_S)
    along, up, tilt = (
        to if abs(to - now) < THERE else now + share * (to - now)
        for now, to in zip(place, goal, strict=True)
    )
    return along, up, tilt


def _seconds(kind: Kind, scene: Scene, stands: Standing) -> int | None:
    """Return the seconds that are counted down."""
    if kind is Kind.RESET and scene.reset is not None and scene.reset.left_s > 0:
        return math.ceil(scene.reset.left_s)
    return math.ceil(stands.sit_in_left_s) if kind is Kind.SIT_IN else None


def _lit(kind: Kind, stands: Standing) -> int:
    """Return how many parts of the nest are lit."""
    if kind is Kind.COACH:
        return stands.steady
    return stands.needed if kind in (Kind.QUIET, Kind.REACHED) else 0
