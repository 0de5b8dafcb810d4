"""Real commands in processes of their own, killed at any moment, and what is left of their work.

Nothing in a killed process knows of it: what it had seen is told by its own anchors, which say what
session time it was at what time of day, and by when its files were last written.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from posewatch.capturing import capture_target
from posewatch.checking import VisitCheck, check_session, check_visit
from posewatch.core.capture import Subject
from posewatch.core.records import NS_PER_S
from posewatch.demo import SIT_IN_S, clips_folder
from posewatch.store.answers_file import template, write_answers
from posewatch.store.plan_file import write_plan
from posewatch.store.session_reader import SessionReader, is_session
from posewatch.store.settings import FILE_VARIABLE, Settings
from posewatch.store.target_shelf import save_target
from posewatch.trials.conduct_state import ConductState
from posewatch.trials.plan import Design, make_plan
from posewatch.trials.words import ComparisonKind, ConcealmentLevel, OrderKind
from posewatch.visits.visit import Visit
from posewatch.watched_source import Source

REFERENCE, RIDE = "hoods_reference", "hoods_steady"
SUBJECT = Subject("bench", "bench", "hoods")
TARGET = "bench/bench/hoods"
COMMAND = "from posewatch.cli import main; main()"
#: Each trial of a visit counts so many strokes; the ride has four times as many.
GOAL_STROKES, MOUNTINGS = 20, 3
LOOK_EVERY_S = 0.002
#: A command that has not begun to record by then will not.
BEGIN_S = 60.0


@dataclass(frozen=True, slots=True)
class Ground:
    """Where the commands work: settings of their own, a target, a ride, a plan and answers."""

    folder: Path
    ride: Path

    @property
    def settings(self) -> Settings:
        """The settings in force there."""
        return Settings(data_folder=self.folder / "data")

    def run(self, *arguments: object, program: str = COMMAND) -> subprocess.Popen[str]:
        """Start a command; its output is kept for who waits for it."""
        return subprocess.Popen(
            [sys.executable, "-c", program, *map(str, arguments)],
            env=dict(os.environ, **{FILE_VARIABLE: str(self.folder / "settings.toml")}),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )

    def watch(self, session: Path, *more: object, program: str = COMMAND) -> subprocess.Popen[str]:
        """Start a watch of the ride at its own pace."""
        given = ("--source", self.ride, "--target", TARGET, "--session", session, "--headless")
        return self.run("watch", *given, *more, program=program)

    def visit(self, folder: Path) -> subprocess.Popen[str]:
        """Start a visit, or go on with one, that answers itself and rides faster than life."""
        given = ("--answers", self.folder / "answers.json", "--source", self.ride, "--fast")
        plan = () if folder.exists() else ("--plan", self.folder / "plan.json")
        return self.run("trial", "run", "--session", folder, *given, *plan)


@dataclass(frozen=True, slots=True)
class Killed:
    """What was left of a command that was killed.

    lost_s: of session time, seen and not kept; of a visit, since the log of the trial under way was
    last written.
    n_ended: trials that had ended before, n_whole: those that are whole. went_on: it was gone on
    with. wrong: what a check finds, before that and after.
    """

    lost_s: float
    n_ended: int
    n_whole: int
    went_on: bool
    wrong: tuple[str, ...]


def prepare(folder: Path) -> Ground:
    """Make the ground in an empty folder.

    Raises:
        PosewatchError: the demo's recorded landmarks cannot be used.
    """
    landmarks = clips_folder() / "landmarks"
    ground = Ground(folder, landmarks / f"{RIDE}.landmarks.npz")
    data_folder = json.dumps(str(ground.settings.data_folder))
    (folder / "settings.toml").write_text(f"data_folder = {data_folder}\n", encoding="utf-8")
    reference = Source(landmarks / f"{REFERENCE}.landmarks.npz", "full")
    target = capture_target([reference], SUBJECT, lambda *_: None)
    save_target(target, ground.settings.data_folder)
    design = Design(
        ComparisonKind.SHORTS,
        None,
        ConcealmentLevel.READINGS_HIDDEN,
        SUBJECT.rider,
        SUBJECT.bike,
        2,
        MOUNTINGS,
        1,
        (SUBJECT.hands,),
        OrderKind.REVERSED_PAIRS,
        1,
        familiarisation=False,
        goal_strokes=GOAL_STROKES,
        sit_in_s=SIT_IN_S,
    )
    plan = make_plan(design)
    write_plan(plan, folder / "plan.json")
    write_answers(template(plan, 1), folder / "answers.json")
    return ground


def kill_watch(ground: Ground, session: Path, after_s: float) -> Killed:
    """Kill a watch so long after it has begun to record."""
    process = ground.watch(session)
    killed_ns = _kill(process, lambda: is_session(session), after_s)
    found = check_session(session)
    with SessionReader(session) as reader:
        anchors, times_ns = list(reader.anchors()), [item.t_ns for _, item in reader.inputs()]
    lost_s = 0.0  # before its first commit it had seen nothing: that comes with the first picture
    if anchors:
        seen_ns = anchors[0].t_ns + killed_ns - anchors[0].wall_ns
        lost_s = (seen_ns - times_ns[-1]) / NS_PER_S
    return Killed(lost_s, 0, 0, True, tuple(found.wrong))


def kill_visit(ground: Ground, folder: Path, after_s: float, *, to_the_end: bool) -> Killed:
    """Kill a visit so long after its first trial began, and go on with it.

    to_the_end: ride all that is left, by the command; otherwise it is only opened again.
    """
    process = ground.visit(folder)
    killed_ns = _kill(process, lambda: (folder / "trials").is_dir(), after_s)
    written_ns = {path: path.stat().st_mtime_ns for path in folder.rglob("*")}
    before = check_visit(folder)
    run = before.state.run
    log = folder if run is None or not is_session(folder / run.folder) else folder / run.folder
    last_ns = max(when for path, when in written_ns.items() if log in path.parents)
    wrong = list(before.all_wrong)
    ended = [run.folder for run in before.state.runs if run.ended_ns is not None]
    if to_the_end:
        process = ground.visit(folder)
        said, _ = process.communicate()
        if process.returncode != 0:
            wrong.append(f"going on failed: {said.splitlines()[-1:]}")
    else:
        Visit.go_on(folder, ground.settings).close()
    after = check_visit(folder)
    wrong += after.all_wrong
    n_ridden = sum(not run.broken_off for run in after.state.runs)
    went_on = after.state.run is None and (not to_the_end or _is_ended(after.state))
    if to_the_end and n_ridden < 2 * MOUNTINGS - 1:  # the one that was cut off stands as it is
        wrong.append(f"only {n_ridden} trials were ridden to their end")
    return Killed(
        (killed_ns - last_ns) / NS_PER_S, len(ended), _n_whole(after, ended), went_on, (*wrong,)
    )


def _is_ended(state: ConductState) -> bool:
    return state.ended is not None and not state.ended.reason


def _n_whole(visit: VisitCheck, folders: list[str]) -> int:
    """Return how many of some trials are whole: finished, nothing wrong, all strokes there."""
    return sum(
        trial.finished
        and not trial.wrong
        and trial.totals is not None
        and trial.totals.n_counted >= GOAL_STROKES
        for trial in visit.trials
        if f"trials/{trial.folder.name}" in folders
    )


def _kill(process: subprocess.Popen[str], has_begun: Callable[[], bool], after_s: float) -> int:
    """Kill a process so long after it has begun to record; return when, wall time in ns."""
    with process:
        try:
            until_s = time.monotonic() + BEGIN_S
            while not has_begun():
                if process.poll() is not None or time.monotonic() > until_s:
                    process.kill()
                    said, _ = process.communicate()
                    raise RuntimeError(f"nothing was recorded: {said}")
                time.sleep(LOOK_EVERY_S)
            time.sleep(after_s)
        finally:
            killed_ns = time.time_ns()
            process.kill()
    return killed_ns
