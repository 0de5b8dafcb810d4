"""Goes through a visit, from where it stands to its end: asks, waits, rides, keeps what was said.

What is next follows from where the visit stands, so that a visit that was left is gone on with like
any other. Whoever answers, at the keys or from a file, is asked the same things in the same order.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import replace

from posewatch.app import Watcher, WatchResult
from posewatch.awake import kept_awake
from posewatch.core.outputs import Output
from posewatch.core.pipeline import PipelineState
from posewatch.core.records import NS_PER_S, CommandKind, Input
from posewatch.core.timebase import to_ns
from posewatch.errors import BadInput, PosewatchError
from posewatch.runtime import clock
from posewatch.runtime.read_ahead import GaveUp
from posewatch.trials import acts
from posewatch.trials.acts import Act
from posewatch.trials.check_list import open_lines
from posewatch.trials.conduct_state import (
    Mounted,
    Run,
    StartNeed,
    TrialPhase,
    planned_mounting,
    planned_trial,
)
from posewatch.trials.start_needs import Missing
from posewatch.visits.answering import Answerer, Choice, Screen, choices
from posewatch.visits.visit import TrialTask, Visit

#: Between two looks at a wait.
LOOK_NS = NS_PER_S
NOT_ASKED = "not asked"


class Conductor:
    """Conducts a visit.

    Args:
        visit: open; it is not closed here.
        number: of the visit in the plan, where it has not begun.
        watcher_of: makes the watch of a trial.
    """

    def __init__(
        self,
        visit: Visit,
        number: int,
        answers: Answerer,
        screen: Screen,
        watcher_of: Callable[[TrialTask], Watcher],
    ) -> None:
        self._visit, self._number = visit, number
        self._answers, self._screen, self._watcher_of = answers, screen, watcher_of
        self._stopped = self._paused = False
        self._never = threading.Event()

    def run(self) -> None:
        """Go on until the visit has ended, or whoever answers stops for now.

        Ctrl+C in a trial breaks that off; anywhere else it stops for now. Where nobody attends it
        ends the visit.

        Raises:
            PosewatchError: a trial cannot be ridden and nobody attends, or the record cannot be
                written; the visit stays as it stands.
        """
        try:
            with kept_awake():
                while not self._stopped and self._visit.state.ended is None:
                    self._next()
        except KeyboardInterrupt:
            if not self._answers.attended and self._visit.state.visit:
                self._visit.end(self._answers.broken_off())

    def _next(self) -> None:
        """Do what is next."""
        visit, answers = self._visit, self._answers
        visit.look()
        state = visit.state
        if state.visit == 0:
            self._do(acts.VisitBegun(0, self._number, answers.operator()))
            return
        needs = {one.need: one for one in visit.missing()}
        mounting = planned_mounting(visit.plan, state)
        if StartNeed.RATINGS in needs:
            self._rate(state.runs[-1])
        elif StartNeed.GUESS in needs:
            guess = answers.guess(state.mounted[-1].number)
            self._do(guess or acts.Overridden(0, StartNeed.GUESS, NOT_ASKED))
            said = "does not know" if guess is None or guess.guess is None else guess.guess
            self._tell(f"guess: {NOT_ASKED if guess is None else said}")
        elif StartNeed.CODES in needs:
            self._pass_over(needs[StartNeed.CODES])
        elif mounting is None:
            self._between("the end: all is ridden", self._end, skip=None)
        elif StartNeed.WARM_UP in needs:
            self._warm_up(needs[StartNeed.WARM_UP])
        elif state.mounting is None:
            discarded = ", to get used to it: it is discarded" if mounting.familiarisation else ""
            what = f"mounting {mounting.number}, {visit.next_code}{discarded}"
            self._between(what, self._mount, acts.MountingSkipped)
        elif StartNeed.CHECK_LIST in needs:
            self._go_through_check_list(state.mounting)
        else:
            self._trial_or_end_of_mounting(needs)

    def _rate(self, run: Run) -> None:
        # All or none: ratings that Ctrl+C or a kill cut short are asked again.
        rated = list(self._answers.rate(run))
        self._do(*rated)
        n_asked = sum(one.value is not None for one in rated)
        self._tell(f"ratings: {n_asked} of {len(rated)} asked")

    def _go_through_check_list(self, mounting: Mounted) -> None:
        n = n_done = 0
        for line in open_lines(self._visit.plan, mounting):
            said = self._answers.line(mounting.number, line)
            self._do(said)
            n, n_done = n + 1, n_done + isinstance(said, acts.LineDone)
        self._tell(f"check list: {n_done} done, {n - n_done} left out")

    def _tell(self, text: str) -> None:
        """Say what whoever answers at the keys knows."""
        if not self._answers.attended:
            self._screen.say(text)

    def _trial_or_end_of_mounting(self, needs: dict[StartNeed, Missing]) -> None:
        visit = self._visit
        mounting, trial = visit.state.mounting, planned_trial(visit.plan, visit.state)
        assert mounting is not None
        if trial is None:
            what = f"the end of mounting {mounting.number}: the item comes off load"
            self._between(what, lambda: self._do(acts.MountingEnded(0)), skip=None)
        elif StartNeed.TARGET in needs:
            raise BadInput(
                f"The trial cannot begin: {needs[StartNeed.TARGET].text}.", "Capture it."
            )
        elif StartNeed.REST in needs:
            self._wait(StartNeed.REST)
        else:
            what = f"trial {trial.number} of mounting {mounting.number}, {trial.hands}"
            self._between(what, self._ride, acts.TrialSkipped)

    def _between(
        self,
        what: str,
        go_on: Callable[[], None],
        skip: Callable[[int, str], Act] | None,
    ) -> None:
        """Ask what is to be done at a place between trials, and do it."""
        offered = choices(self._visit.state, skip is not None)
        wish = self._answers.choose(what, offered)
        match wish.choice:
            case Choice.GO_ON:
                self._tell(what)
                go_on()
            case Choice.STOP:
                self._stopped = True
            case Choice.END:
                self._visit.end(wish.reason)
            case _:
                try:
                    self._do(wish.to_do(skip))
                except BadInput as error:
                    if not self._answers.attended:
                        raise
                    self._screen.say(str(error))

    def _warm_up(self, need: Missing) -> None:
        state = self._visit.state
        if state.warm_up_begun_ns is None:

            def begin() -> None:
                self._do(acts.WarmUp(0, True))

            def left_out(t_ns: int, reason: str) -> Act:
                return acts.Overridden(t_ns, StartNeed.WARM_UP, reason)

            self._between("the warm-up, on the rider's own gear", begin, left_out)
            return
        if state.warm_up_ended_ns is None:
            self._wait(StartNeed.WARM_UP)
            self._do(acts.WarmUp(0, False))
        else:  # it was cut short, and why is not said yet
            self._pass_over(need)

    def _mount(self) -> None:
        self._do(acts.MountingBegun(0))
        for one in self._visit.missing():
            if one.need is StartNeed.REST:
                self._screen.say(f"{one.text}; mount it meanwhile")

    def _end(self) -> None:
        self._do(acts.VisitEnded(0))

    def _wait(self, need: StartNeed) -> None:
        """Wait until something is no longer missing, or it is said why it is passed over."""
        visit, answers = self._visit, self._answers
        while True:
            one = next((one for one in visit.missing() if one.need is need), None)
            if one is None or one.left_s <= 0:
                self._screen.left("", 0.0)
                return
            why = "" if answers.attended else answers.why(one)
            if not why and visit.clock.fast:
                self._screen.say(f"{one.text}: time is passed over")
                visit.clock.pass_over(one.left_s)
                continue
            self._screen.left(one.text, one.left_s)
            try:
                if not why:
                    due_ns = clock.monotonic_ns() + min(LOOK_NS, to_ns(one.left_s))
                    clock.wait_until(due_ns, self._never)
            except KeyboardInterrupt:
                self._screen.left("", 0.0)
                if not answers.attended:
                    raise
                why = answers.why(one)
            if why:
                self._do(acts.Overridden(0, need, why))
            visit.look()

    def _pass_over(self, one: Missing) -> None:
        why = self._answers.why(one)
        if not why:
            raise BadInput(f"The trial cannot begin: {one.text}.", one.advice)
        self._do(acts.Overridden(0, one.need, why))

    def _do(self, *done: Act) -> None:
        now_ns = self._visit.clock.now_ns
        self._visit.do(*(replace(act, t_ns=now_ns) for act in done))

    def _ride(self) -> None:
        """Ride the next trial: watched from its reset until it is reached, or broken off."""
        visit, answers, screen = self._visit, self._answers, self._screen
        task = visit.begin_trial()
        self._paused = False
        try:
            watcher = self._watcher_of(task)
            with screen.riding(watcher) as shown:

                def seen(item: Input, state: PipelineState, said: tuple[Output, ...]) -> None:
                    shown.seen(item, state, said)
                    self._follow(watcher, state)

                result = watcher.run(seen, shown.opened)
                shown.ended(result)
        except GaveUp:
            visit.end_trial_as_logged(answers.broken_off() or "stopped before it was watched")
        except PosewatchError as error:
            visit.end_trial_as_logged(error.what)
            if not answers.attended:
                raise
            screen.say(str(error))
        except BaseException:
            visit.end_trial_as_logged("cut off")
            raise
        else:
            self._end_trial(watcher, result)
            return
        if not answers.attended:
            raise KeyboardInterrupt

    def _follow(self, watcher: Watcher, state: PipelineState) -> None:
        """Take in how the trial stands: the reset, the hold, a pause, and whether it is reached."""
        visit = self._visit
        moments = list(iter(visit.say_reset, None))
        if moments:
            self._screen.say(f"reset: {', '.join(moments)}")
        hold = state.judge.hold
        visit.follow(hold.phase, state.judge.tally.n_strokes, hold.waiting)
        why = self._answers.pause()
        if bool(why) is not self._paused:
            self._paused = bool(why)
            # The hold hears of it as of anything else, and follow() then finds the trial waiting.
            watcher.controls.say(CommandKind.PAUSE if why else CommandKind.RESUME, why)
            if why:
                self._do(acts.Noted(0, why))
        if visit.state.runs[-1].phase is TrialPhase.REACHED:
            watcher.stop.set()

    def _end_trial(self, watcher: Watcher, result: WatchResult) -> None:
        visit = self._visit
        reason, broken_off = "", False
        if visit.state.runs[-1].phase is not TrialPhase.REACHED:
            broken_off = watcher.stop.is_set()
            reason = self._answers.broken_off() if broken_off else "the source ended"
        visit.end_trial(result.totals, reason)
        if broken_off and not self._answers.attended:
            raise KeyboardInterrupt
