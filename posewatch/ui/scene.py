"""What all windows are told at one poll. Without Qt."""

from __future__ import annotations

from dataclasses import dataclass

from posewatch.core.envelope import Target
from posewatch.core.standing import Standing
from posewatch.core.watch_plan import WatchPlan
from posewatch.runtime.engine import EngineState, Said, Shown
from posewatch.runtime.health import Health
from posewatch.studio import Doing
from posewatch.ui.theme import DARK, Theme


@dataclass(frozen=True, slots=True)
class Switches:
    """What people switched while it runs.

    cues: the rider is corrected; without them strokes count all the same. sound, speech: tones,
    and spoken words. no_sound: why no sound can be made, empty = it can. brightness: 0.2 to 1, of
    the rider's window.
    """

    cues: bool = True
    sound: bool = True
    speech: bool = False
    no_sound: str = ""
    brightness: float = 1.0
    theme: Theme = DARK


@dataclass(frozen=True, slots=True)
class SensorLine:
    """How a sensor of the watch stands.

    name: for people. text: what its link says, whole. age_s: since its newest value, NaN = none
    came. state: what keeps values from coming, in a few words; empty = nothing does. gives: what it
    gives, as "power and cadence". whose: whose power that is and where it is taken, as "one side
    (left crank)"; empty = not known.
    """

    name: str
    text: str
    age_s: float
    state: str = ""
    gives: str = ""
    whose: str = ""


@dataclass(frozen=True, slots=True)
class Reset:
    """The step of the reset that the rider is at. left_s: until the next one is said, 0 = none."""

    words: str
    left_s: float


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """All that windows are told at one poll.

    monotonic_ns: now. error: what ended the last job, for people; empty = nothing did. paused: why
    the watch is paused, empty = it is not. said: what came since the last poll, in order; each is
    told once. progress: done and expected of a capture. camera: what is wrong with camera or
    pictures, for people; empty = nothing. sensors: of the watch, empty = it reads none. reset: at
    the beginning of a trial of a visit, None = it is not under way. video: what is kept of the
    watch, as "video is kept, faces blurred"; empty = nothing is.
    """

    monotonic_ns: int
    doing: Doing
    state: EngineState
    error: str
    paused: str
    shown: Shown | None
    said: tuple[Said, ...]
    progress: tuple[int, int]
    health: Health
    switches: Switches
    target: Target | None
    plan: WatchPlan
    camera: str = ""
    sensors: tuple[SensorLine, ...] = ()
    reset: Reset | None = None
    video: str = ""

    @property
    def standing(self) -> Standing | None:
        """How the watch stands; None while nothing is watched."""
        return None if self.shown is None or self.doing is not Doing.WATCH else self.shown.standing
