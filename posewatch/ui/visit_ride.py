"""Rides the trials of a visit on the studio's engine; the visit is told how they go. Without Qt."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from posewatch.core.measuring_chain import PointSource
from posewatch.core.records import NS_PER_S
from posewatch.errors import PosewatchError
from posewatch.pose.bundles import SHIPPED_MODELS
from posewatch.studio import Doing, Studio
from posewatch.trials.conduct_state import TrialPhase
from posewatch.ui.messages_view import Note
from posewatch.ui.scene import Scene
from posewatch.visits.visit import TrialTask, Visit
from posewatch.watched_source import Source

#: What is chosen of a studio for a trial, by the names of ``studio.Chosen``.
Rides = Callable[[TrialTask], Mapping[str, object]]


@dataclass(frozen=True, slots=True)
class Visiting:
    """A visit that is to be conducted.

    visit: open. number: of the visit in the plan, where it has not begun. rides: what each trial is
    ridden with, None = what the studio has chosen.
    """

    visit: Visit
    number: int = 1
    rides: Rides | None = None


#: A trial that is reached closes by itself after so long: by then everybody has seen it.
REACHED_SHOWN_NS = 6 * NS_PER_S
NO_SOURCE = "It is not chosen where the rider is seen: choose it in set-up."
NO_POWER = "The plan holds the power and no sensor gives it: no stroke of this trial could count."


class VisitRide:
    """The trials of one visit.

    note: takes what is to be said to the operator.
    """

    def __init__(self, visiting: Visiting, studio: Studio, note: Note) -> None:
        self._visit, self._rides = visiting.visit, visiting.rides
        self._studio, self._note = studio, note
        self._waits = False
        self._why = ""
        self._reached_ns: int | None = None

    @property
    def is_reached(self) -> bool:
        """Whether the trial under way has its strokes."""
        run = self._visit.state.run
        return run is not None and run.phase is TrialPhase.REACHED

    @property
    def is_ending(self) -> bool:
        """Whether the trial under way was asked to end."""
        run, studio = self._visit.state.run, self._studio
        return run is not None and studio.doing is Doing.WATCH and studio.post.stop.is_set()

    def begin(self) -> None:
        """Begin the next trial, once the camera is free.

        Raises:
            PosewatchError: it cannot begin, or the record cannot be written.
        """
        studio, visit = self._studio, self._visit
        if studio.engine.is_busy:
            self._waits = studio.doing is Doing.PREVIEW
            if self._waits:
                studio.end()
            return
        self._waits = False
        if self._rides is None and studio.chosen.source is None:
            self._note(NO_SOURCE)
            return
        task = visit.begin_trial()
        self._why, self._reached_ns = "", None
        chosen = studio.chosen
        plan = task.plan
        if chosen.trainer is not None and plan.power_w is not None:
            plan = replace(plan, trainer_holds_power=True)
        studio.choose(target=task.target, plan=plan)
        if self._rides is not None:
            studio.choose(**self._rides(task))
        elif chosen.source is not None:
            studio.choose(source=read_as(chosen.source, task))
        studio.named = task.session
        try:
            studio.watch()
        except (PosewatchError, RuntimeError) as error:
            visit.end_trial_as_logged(getattr(error, "what", str(error)))
            self._note(str(error))
            return
        if plan.power_w is not None and not studio.chosen.sensors.power:
            self._note(NO_POWER)

    def end(self, why: str = "") -> None:
        """End the trial under way; why: what broke it off, empty where it is reached."""
        self._why = why
        self._studio.end()

    def follow(self, scene: Scene) -> None:
        """Take in a scene: the reset, the hold, waits; and begin or close what is due."""
        visit, studio = self._visit, self._studio
        if visit.state.run is None:
            if self._waits and not studio.engine.is_busy:
                self.begin()
            return
        stands = scene.standing
        if stands is not None:
            while visit.say_reset() is not None:
                pass
            visit.follow(stands.phase, stands.counted, stands.waiting)
        if not studio.engine.is_busy:
            self.close("")
        elif self.is_reached:
            self._end_when_seen(scene.monotonic_ns)

    def _end_when_seen(self, now_ns: int) -> None:
        if self._reached_ns is None:
            self._reached_ns = now_ns
        elif now_ns - self._reached_ns >= REACHED_SHOWN_NS and not self.is_ending:
            self.end()

    def close(self, otherwise: str) -> None:
        """Close the trial whose watch has ended. otherwise: why, where nothing else says it."""
        visit, studio = self._visit, self._studio
        run = visit.state.run
        if run is None:
            return
        folder = visit.folder / run.folder
        result = next((result for where, result in studio.done if where == folder), None)
        if result is None:
            error = studio.error
            told = "" if error is None else getattr(error, "what", str(error))
            visit.end_trial_as_logged(
                told or self._why or otherwise or "stopped before it was watched"
            )
            return
        last = studio.post.shown
        if last is not None and last.standing is not None:
            visit.follow(last.standing.phase, last.standing.counted, last.standing.waiting)
        reached = result.totals.n_counted >= visit.plan.design.goal_strokes
        why = self._why or otherwise
        if not why:
            stopped = studio.post.stop.is_set()
            why = "ended at the keys" if stopped else "the source ended"
        visit.end_trial(result.totals, "" if reached else why)


def read_as(source: Source, task: TrialTask) -> Source:
    """Return a source read as the target of a trial was: another hand position may differ."""
    chain = task.target.chain
    model = chain.model_name if chain.model_name in SHIPPED_MODELS else source.model
    wished = source.wished and (chain.width_px, chain.height_px, round(chain.rate_hz))
    return replace(
        source,
        model=model,
        dots=chain.points is PointSource.DOTS,
        workers=chain.pose_workers,
        wished=wished or None,
    )
