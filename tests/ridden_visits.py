"""A small visit, ridden trial by trial on recorded landmarks, faster than life."""

from __future__ import annotations

from pathlib import Path

from made_plans import made_design

from posewatch.app import Watcher
from posewatch.core.envelope import Target
from posewatch.core.outputs import Output
from posewatch.core.pipeline import PipelineState
from posewatch.core.records import Input
from posewatch.store.plan_file import write_plan
from posewatch.store.settings import Settings
from posewatch.store.target_shelf import save_target
from posewatch.trials import acts
from posewatch.trials.conduct_state import TrialPhase
from posewatch.trials.plan import make_plan
from posewatch.visits.new_visit import NewVisit
from posewatch.visits.visit import TrialTask, Visit
from posewatch.watched_source import Source

GOAL_STROKES = 10


def begin_visit(folder: Path, data_folder: Path, target: Target, keep_until: str = "") -> Visit:
    """Begin a visit of two items, two mountings each, one hand position; nothing needs time."""
    save_target(target, data_folder)
    design = made_design(
        rider=target.rider,
        bike=target.bike,
        hands=(target.hands,),
        mountings=2,
        familiarisation=False,
        goal_strokes=GOAL_STROKES,
        warm_up_s=0.0,
        sit_in_s=1.0,
        item_rest_s=0.0,
    )
    plan_path = folder.with_suffix(".plan.json")
    write_plan(make_plan(design), plan_path)
    new = NewVisit(plan_path, keep_until=keep_until, fast=True)
    visit = Visit.begin(folder, new, Settings(data_folder=data_folder))
    visit.do(acts.VisitBegun(visit.clock.now_ns, 1, "operator"))
    return visit


def begin_trial(visit: Visit) -> TrialTask:
    """Mount the next item and begin its trial; what is missing for it is passed over."""
    if visit.state.mounting is None:
        visit.do(acts.MountingBegun(visit.clock.now_ns))
    for one in visit.missing():
        visit.do(acts.Overridden(visit.clock.now_ns, one.need, "not of interest here"))
    return visit.begin_trial()


def ride_trial(visit: Visit, recording: Path, data_folder: Path) -> None:
    """Begin the next trial, ride it to its goal, close it and end its mounting."""
    task = begin_trial(visit)
    watcher = Watcher(
        Source(recording, "full"),
        task.target,
        task.plan,
        Settings(data_folder=data_folder),
        task.session,
    )

    def follow(item: Input, state: PipelineState, said: tuple[Output, ...]) -> None:
        visit.say_reset()
        visit.follow(state.judge.hold.phase, state.judge.tally.n_strokes)
        run = visit.state.run
        if run is not None and run.phase is TrialPhase.REACHED:
            watcher.stop.set()

    visit.end_trial(watcher.run(follow, lambda _: None).totals)
    visit.do(acts.MountingEnded(visit.clock.now_ns))
