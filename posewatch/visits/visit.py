"""A visit under way: its plan, its record, its clock, and the watch of each trial.

Commands and windows act on a :class:`Visit`; what may be done when is decided in ``trials``.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from pathlib import Path

from posewatch.core.clock_watch import Jump
from posewatch.core.envelope import Target
from posewatch.core.outputs import Phase, Reason
from posewatch.core.timebase import to_s
from posewatch.core.watch_plan import WatchPlan
from posewatch.errors import BadInput
from posewatch.runtime import clock
from posewatch.runtime.disk_watch import require_room
from posewatch.runtime.visit_clock import VisitClock
from posewatch.runtime.watch_run import WatchTotals
from posewatch.store.photos import copy_photo
from posewatch.store.session_shelf import counted
from posewatch.store.settings import Settings
from posewatch.store.target_shelf import hands_with_target, read_target
from posewatch.store.visit_header import KeptAct, VisitHeader
from posewatch.store.visit_record import VisitRecord
from posewatch.trials import acts, conduct
from posewatch.trials.acts import Act
from posewatch.trials.conduct_state import ConductState, Run, planned_mounting, planned_trial
from posewatch.trials.plan import Plan
from posewatch.trials.reset import reset_step
from posewatch.trials.start_needs import Facts, Missing, missing
from posewatch.trials.trial_watch import held_target, rehearsed, watch_plan
from posewatch.trials.words import RitualMoment
from posewatch.visits.new_visit import NewVisit as NewVisit

#: What may keep a trial waiting from outside of it.
WAITS = (Reason.PAUSED, Reason.CAMERA, Reason.VIEW_MOVED)


@dataclass(frozen=True, slots=True)
class TrialTask:
    """What the watch of one trial needs: what is held, and the folder of its log."""

    target: Target
    plan: WatchPlan
    session: Path


class Visit:
    """A visit whose record is open. One thread uses it.

    state: where it stands. found: the acts that were there when it was opened. on_act: is told of
    each act that was kept, with the state after it, and never fails.
    """

    def __init__(self, record: VisitRecord, settings: Settings) -> None:
        self._record, self._settings = record, settings
        self.on_act: Callable[[Act, ConductState], None] | None = None
        self.found: tuple[KeptAct, ...] = record.kept
        self.state = ConductState()
        for kept in record.kept:
            try:
                self.state = conduct.step(record.header.plan, self.state, kept.act)
            except BadInput as error:
                raise BadInput(
                    f"The visit {record.folder} cannot be gone on with: its act {kept.seq} could "
                    f"not have been ({error.what})",
                    "It was altered; restore it from a copy.",
                ) from error
        header = record.header
        self.clock = VisitClock(_resumed_ns(record), header.fast or header.rehearsal)

    @classmethod
    def _of(cls, record: VisitRecord, settings: Settings) -> Visit:
        try:
            return cls(record, settings)
        except BaseException:
            record.close()
            raise

    @classmethod
    def begin(cls, folder: Path, new: NewVisit, settings: Settings) -> Visit:
        """Make a visit's folder and its record; a failure leaves nothing behind.

        Raises:
            BadInput: the folder exists, the plan cannot be used, the code list is another's, or the
                drive has too little room.
        """
        header = new.header()
        require_room(folder)
        return cls._of(VisitRecord.create(folder, header), settings)

    @classmethod
    def go_on(cls, folder: Path, settings: Settings) -> Visit:
        """Go on with a visit that was left. A trial that was cut off is closed with what its log
        holds.

        Raises:
            BadInput: as ``store.visit_record.VisitRecord.reopen``.
        """
        visit = cls._of(VisitRecord.reopen(folder), settings)
        try:
            run = visit.state.run
            where = "in a trial" if run is not None else "between trials"
            visit.do(acts.Reopened(visit.clock.now_ns, where))
            if run is not None:
                visit.end_trial_as_logged("cut off")
        except BaseException:
            visit.close()
            raise
        return visit

    @property
    def folder(self) -> Path:
        """Where all of it is."""
        return self._record.folder

    @property
    def header(self) -> VisitHeader:
        """What was known before it began."""
        return self._record.header

    @property
    def plan(self) -> Plan:
        """The plan."""
        return self._record.header.plan

    def do(self, *done: Act) -> None:
        """Do an act, or several of one moment, and keep them: all or none.

        Raises:
            BadInput: one cannot be now; nothing is changed.
            PosewatchError: the record cannot be written.
        """
        states = [self.state]
        for act in done:
            if isinstance(act, acts.Gauged | acts.ItemFact) and act.code not in self.header.codes:
                raise BadInput(
                    f"No item has the code {act.code!r}.",
                    f"Give one of {', '.join(self.header.codes)}.",
                )
            states.append(conduct.step(self.plan, states[-1], act))
        self._record.add(clock.wall_ns(), *done)
        self.state = states[-1]
        if self.on_act is not None:
            for act, after in zip(done, states[1:], strict=True):
                self.on_act(act, after)

    def keep_photo(self, picture: Path) -> None:
        """Copy a picture of what is mounted into the folder, under a name that says nothing.

        Raises:
            BadInput: no such picture, or it cannot be now; nothing is kept.
        """
        now_ns = self.clock.now_ns
        conduct.step(self.plan, self.state, acts.PhotoKept(now_ns, "", ""))
        number = self.state.mounted[-1].number if self.state.mounted else 0
        file, sha256 = copy_photo(picture, self.folder, f"m{number:02d}")
        try:
            self.do(acts.PhotoKept(now_ns, file, sha256))
        except BaseException:
            (self.folder / file).unlink(missing_ok=True)
            raise

    def look(self) -> None:
        """Look at the clocks, every few seconds: a step or a sleep goes into the record."""
        jump = self.clock.jump()
        if not self.clock.fast and jump != Jump():
            now_ns = self.clock.now_ns
            self.do(acts.ClockJumped(now_ns, to_s(jump.stepped_ns), to_s(jump.slept_ns)))

    def missing(self) -> tuple[Missing, ...]:
        """Return what the next trial still needs; empty = it may begin."""
        design = self.plan.design
        hands = hands_with_target(design.rider, design.bike, self._settings.data_folder)
        facts = Facts(bool(self.header.sealed_sha256), hands)
        return missing(self.plan, self.state, self.clock.now_ns, facts)

    def target(self) -> Target:
        """Return the target of the next trial. What the item itself may move is not required.

        Raises:
            BadInput: no trial is next, or it has no target.
        """
        design = self.plan.design
        trial = planned_trial(self.plan, self.state)
        if trial is None:
            raise BadInput("No trial is next.", "Begin the next mounting first.")
        name = f"{design.rider}/{design.bike}/{trial.hands}"
        return held_target(read_target(name, self._settings.data_folder), design)

    def begin_trial(self) -> TrialTask:
        """Begin the next trial; its watch is the caller's, who tells of it and ends it.

        Raises:
            BadInput: something is missing, or room on the drive; nothing is changed.
        """
        needs = self.missing()
        if needs:
            raise BadInput(
                f"The trial cannot begin: {'; '.join(one.text for one in needs)}.",
                f"{needs[0].advice} Or pass it over with a reason, which is kept.",
            )
        require_room(self.folder)
        mounting, trial = self.state.mounting, planned_trial(self.plan, self.state)
        assert mounting is not None
        assert trial is not None
        header, target = self.header, self.target()
        held = watch_plan(self.plan, self.state, self.clock.fast)
        held = rehearsed(held) if header.rehearsal else held
        here = (mounting.number, trial.number)
        attempt = 1 + sum((run.mounting, run.trial) == here for run in self.state.runs)
        name = f"trials/m{mounting.number:02d}-t{trial.number}-{trial.hands}-{attempt}"
        self.do(acts.TrialBegun(self.clock.now_ns, name))
        return TrialTask(target, held, self.folder / name)

    def say_reset(self) -> RitualMoment | None:
        """Do the next step of the reset if it is due, and return it; to be asked all the time.

        Where waits are passed over, every step is due.
        """
        step = reset_step(self.state, self.clock.now_ns)
        if step is None:
            return None
        moment, left_s = step
        if left_s > 0:
            if not self.clock.fast:
                return None
            self.clock.pass_over(left_s)
        self.do(acts.RitualDone(self.clock.now_ns, moment))
        return moment

    def follow(self, phase: Phase, n_confirmed: int, waiting: Collection[Reason] = ()) -> None:
        """Tell how the hold of the trial under way stands; a change goes into the record.

        waiting: gross events that go on; those from outside keep the trial waiting.
        """
        run = self._run()
        cause = ", ".join(reason for reason in WAITS if reason in waiting)
        if cause != run.waiting:
            now_ns = self.clock.now_ns
            self.do(acts.Waiting(now_ns, cause) if cause else acts.WaitOver(now_ns))
        act = acts.HoldSeen(self.clock.now_ns, phase, n_confirmed)
        after = conduct.step(self.plan, self.state, act).run
        if after is not None and after.phase is not self._run().phase:
            self.do(act)

    def end_trial(self, totals: WatchTotals, reason: str = "") -> None:
        """Close the trial under way with what its watch came to; reason: why it was broken off."""
        if self.clock.fast:
            # So that rests and waits are reckoned as if it had been ridden at its own pace.
            left_ns = totals.watched_ns - (self.clock.now_ns - self._run().begun_ns)
            self.clock.pass_over(to_s(max(0, left_ns)))
        now_ns = self.clock.now_ns
        self.do(acts.TrialClosed(now_ns, totals.n_counted, totals.counted_ns, reason))

    def end_trial_as_logged(self, reason: str) -> None:
        """Close the trial under way with what its log holds; for a watch that was cut off."""
        try:
            n, counted_ns = counted(self.folder / self._run().folder)
        except BadInput:  # it was cut off before its log began
            n, counted_ns = 0, 0
        self.do(acts.TrialClosed(self.clock.now_ns, n, counted_ns, reason))

    def end(self, reason: str) -> None:
        """End the visit before all is ridden; a mounting under way is left with it."""
        if self.state.mounting is not None:
            self.do(acts.MountingSkipped(self.clock.now_ns, reason))
        self.do(acts.VisitEnded(self.clock.now_ns, reason))

    def code(self, slot: int) -> str:
        """Return what an item is called until the reveal."""
        return self.header.codes[slot]

    @property
    def next_code(self) -> str:
        """What the item is called that is mounted now or next, empty = none is."""
        planned = planned_mounting(self.plan, self.state)
        return "" if planned is None else self.code(planned.slot)

    def close(self) -> None:
        """Close the record; twice is harmless."""
        self._record.close()

    def _run(self) -> Run:
        """Return the trial under way."""
        if self.state.run is None:
            raise BadInput("No trial is under way.", "Begin one first.")
        return self.state.run


def _resumed_ns(record: VisitRecord) -> int:
    """Return the visit's time now: as much later than its last act as the wall clock says."""
    if not record.kept:
        return 0
    last = record.kept[-1]
    return last.act.t_ns + max(0, clock.wall_ns() - last.wall_ns)
