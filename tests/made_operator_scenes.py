"""Scenes for the operator's window: single ones put together, and whole rides as they come out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

import numpy as np
from exact_rider import target as exact_target

from posewatch.core import pipeline
from posewatch.core.cues import LiveChannel
from posewatch.core.doubts import Doubt
from posewatch.core.envelope import Target
from posewatch.core.judge import Task
from posewatch.core.landmarks import LANDMARKS
from posewatch.core.outputs import ChannelValue, Output, Phase, Reason
from posewatch.core.plane import PlaneMap
from posewatch.core.records import NS_PER_S, Channel, Command, Frame, Input, Tick, Verdict
from posewatch.core.sources import TimedPicture
from posewatch.core.standing import Standing, standing
from posewatch.core.watch_plan import WatchPlan
from posewatch.runtime.engine import EngineState, Said, Shown
from posewatch.runtime.health import Health, Stage
from posewatch.studio import Doing
from posewatch.ui.scene import Scene, Switches

TARGET = exact_target()
PLAN = WatchPlan()
HEALTH = Health(29.6, 900, 3, Stage(18.0, 27.0), Stage(41.0, 66.0), 0, 0.4, 120_000_000_000)
NO_CROSSES = np.empty((0, 2))
#: Where the made scenes' monotonic clock begins.
BEGUN_NS = 1000 * NS_PER_S


def live(
    channel: Channel = Channel.TORSO,
    deviation: float = 0.0,
    verdict: Verdict = Verdict.GOOD,
    reason: Reason | None = None,
    restless: bool = False,
    required: bool = True,
) -> LiveChannel:
    """Return one channel's live value with the limits of the exact target (or 14 W)."""
    value = ChannelValue(
        channel, deviation, 0.0, verdict, required, reason, deviation, 0.0, restless
    )
    if channel in (Channel.POWER, Channel.CADENCE):
        return LiveChannel(value, 14.0, 11.9)
    envelope = TARGET.envelope(channel)
    return LiveChannel(value, envelope.tol, envelope.inner)


def stands(
    phase: Phase = Phase.IN_POSITION,
    t_s: float = 60.0,
    waiting: tuple[Reason, ...] = (),
    sit_in_left_s: float = 0.0,
    steady: int = 0,
    needed: int = 5,
    cue: Channel | None = None,
    direction: str = "",
    now: tuple[LiveChannel, ...] = (live(),),
    counted: int = 24,
    pending: int = 0,
    goal: int = 60,
    doubt: tuple[str, Doubt] | None = None,
) -> Standing:
    """Return how a watch stands: by default in position, and counting."""
    return Standing(
        round(t_s * NS_PER_S),
        phase,
        waiting,
        sit_in_left_s,
        steady,
        needed,
        cue,
        direction,
        now,
        counted,
        counted * 2 / 3,
        pending,
        goal,
        90.0,
        doubt,
    )


def shown(
    standing_now: Standing | None = None, picture: TimedPicture | None = None, t_ns: int = 0
) -> Shown:
    """Return one moment."""
    return Shown(t_ns, picture, 0, NO_CROSSES, None, standing_now)


WATCHED = shown(stands())


def scene(
    doing: Doing = Doing.WATCH,
    seconds: float = 60.0,
    state: EngineState = EngineState.RUNNING,
    moment: Shown | None = WATCHED,
    said: tuple[Said, ...] = (),
    target: Target | None = TARGET,
    error: str = "",
    paused: str = "",
    camera: str = "",
    health: Health = HEALTH,
    progress: tuple[int, int] = (0, 0),
    switches: Switches | None = None,
) -> Scene:
    """Return a scene so many seconds after the made clock's beginning: by default of a watch."""
    return Scene(
        BEGUN_NS + round(seconds * NS_PER_S),
        doing,
        state,
        error,
        paused,
        moment,
        said,
        progress,
        health,
        Switches() if switches is None else switches,
        target,
        PLAN,
        camera,
    )


def of_watch(standing_now: Standing, **others: object) -> Scene:
    """Return a scene of a watch that stands like that."""
    return scene(moment=shown(standing_now), **others)  # type: ignore[arg-type]


def said(*outputs: Output, item: Input | None = None) -> Said:
    """Return what came out of one input, by default of time passing."""
    return Said(Tick(0) if item is None else item, outputs)


@dataclass(slots=True)
class RiddenScenes:
    """Whole rides through the pipeline, one scene a picture, as an engine would show them.

    commands: given at their times.
    """

    target: Target
    plan: WatchPlan
    plane: PlaneMap | None = None
    commands: tuple[Command, ...] = ()
    switches: Switches | None = None

    def of(
        self, frames: Iterable[Frame], pictures: Iterator[TimedPicture] | None = None
    ) -> Iterator[Scene]:
        """Give the scenes of a ride, with its pictures if there are any."""
        task = Task(self.target, self.plan)
        state = pipeline.start(task, self.target.chain, self.plane)
        waiting = list(self.commands)
        paused = ""
        for frame in frames:
            told = []
            while waiting and waiting[0].t_ns <= frame.t_ns:
                command = waiting.pop(0)
                state, outputs = pipeline.step(task, state, command)
                told.append(Said(command, outputs))
                paused = {"pause": command.text or "paused", "resume": ""}.get(command.kind, paused)
            state, outputs = pipeline.step(task, state, frame)
            told.append(Said(frame, outputs))
            assert state.last is not None
            side = state.last.side
            crosses = (
                NO_CROSSES
                if side is None
                else frame.points_px[LANDMARKS[side]][state.last.body.doubts == 0]
            )
            now = Shown(
                frame.t_ns,
                next(pictures, None) if pictures is not None else None,
                0,
                crosses,
                state.last,
                standing(task, state, frame.t_ns),
            )
            made = scene(Doing.WATCH, frame.t_ns / NS_PER_S, moment=now, paused=paused)
            yield replace(
                made,
                said=tuple(told),
                target=self.target,
                plan=self.plan,
                switches=made.switches if self.switches is None else self.switches,
            )
