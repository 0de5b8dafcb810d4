"""Conducts a visit from the operator's keys: what is done to the visit and to the studio.

Without Qt. ``visit_view`` decides what is next, ``visit_forms`` what is typed; this acts. Visit and
desk belong to the thread of the windows.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

from posewatch.core.records import NS_PER_S
from posewatch.errors import BadInput, PosewatchError
from posewatch.runtime import clock
from posewatch.studio import Doing, Studio
from posewatch.trials import acts
from posewatch.trials.acts import Act
from posewatch.trials.check_list import check_list
from posewatch.trials.kinds import Entry
from posewatch.trials.words import RitualMoment
from posewatch.ui import visit_forms
from posewatch.ui.bench_forms import BenchForms, gauged_words
from posewatch.ui.health_view import Level
from posewatch.ui.messages_view import Note
from posewatch.ui.scene import Reset, Scene
from posewatch.ui.visit_forms import Form
from posewatch.ui.visit_lines import next_line, skips
from posewatch.ui.visit_ride import Visiting, VisitRide
from posewatch.ui.visit_view import Next, VisitNow, reset_shown, step_of

logger = logging.getLogger(__name__)

#: What is shown is made anew this often, besides after every act.
SHOWN_NS = NS_PER_S // 2
#: The machine's clocks are looked at this often.
LOOKED_NS = 2 * NS_PER_S
#: What has just come to be next is not done by a key that was meant for what was before.
SETTLED_NS = 2 * NS_PER_S // 5


class VisitDesk:
    """One visit at the operator's keys.

    now: how it stands, as it was last looked at. form: what is being typed, None = nothing.

    Args:
        visiting: the visit.
        studio: rides its trials.
        note: takes what is to be said to the operator.
        now_ns: the monotonic clock.
    """

    def __init__(
        self,
        visiting: Visiting,
        studio: Studio,
        note: Note,
        now_ns: Callable[[], int] = clock.monotonic_ns,
    ) -> None:
        self.visit, self._number = visiting.visit, visiting.number
        self._studio, self._note, self._now_ns = studio, note, now_ns
        self._ride = VisitRide(visiting, studio, note)
        self._bench = BenchForms(self.visit.header)
        self.form: Form | None = None
        self.fault = ""
        self._line = 0
        self._looked_ns = self._shown_ns = now_ns()
        self.now = self._read()
        self._next_since = (step_of(self.now).next, now_ns())

    @property
    def reset(self) -> Reset | None:
        """What the rider is told of the reset, None = nothing."""
        if self.fault:
            return None
        return reset_shown(
            replace(self.now, state=self.visit.state, now_ns=self.visit.clock.now_ns)
        )

    def follow(self, scene: Scene) -> None:
        """Take in a scene; call it at every poll."""
        if self.fault:
            return
        self._try(partial(self._follow, scene))
        now_ns = self._now_ns()
        if now_ns - self._shown_ns >= SHOWN_NS:
            self._look()

    def _follow(self, scene: Scene) -> None:
        now_ns = self._now_ns()
        if now_ns - self._looked_ns >= LOOKED_NS:
            self._looked_ns = now_ns
            self.visit.look()
        before = self.visit.state
        self._ride.follow(scene)
        if self.visit.state is not before:
            self._look()

    def next(self) -> None:
        """Do what is next."""
        if self.fault:
            self._note(self.fault, Level.FAULT)
            return
        step, since_ns = self._step()
        if step is not Next.LINE and self._now_ns() - since_ns < SETTLED_NS:
            return
        do: Mapping[Next, Callable[[], None]] = {
            Next.BEGIN_VISIT: self._ask_begin,
            Next.RATE: self.rate,
            Next.GUESS: lambda: self._ask(visit_forms.guess(self.visit.plan.design)),
            Next.CODES: self.skip,
            Next.BEGIN_WARM_UP: lambda: self._do(acts.WarmUp(0, True)),
            Next.WARM_UP: self._wait,
            Next.END_WARM_UP: lambda: self._do(acts.WarmUp(0, False)),
            Next.MOUNT: lambda: self._do(acts.MountingBegun(0)),
            Next.LINE: self._do_line,
            Next.REST: self._wait,
            Next.TARGET: self.skip,
            Next.BEGIN_TRIAL: self._ride.begin,
            Next.RESET: self._begin_reset_anew,
            Next.REACHED: self._ride.end,
            Next.END_MOUNTING: lambda: self._do(acts.MountingEnded(0)),
            Next.END_VISIT: lambda: self._do(acts.VisitEnded(0)),
        }
        if step in do:
            self._try(do[step])
        self._look()

    def end_trial(self) -> None:
        """Close the trial under way; where it is not reached, a reason is asked for first."""
        if self.visit.state.run is None or self._ride.is_ending:
            return
        if self._ride.is_reached:
            self._ride.end()
        else:
            self._ask(visit_forms.reason("break the trial off; it goes on until then", self._abort))
        self._look()

    def _abort(self, why: str) -> Sequence[Act]:
        self._ride.end(why)
        return ()

    def skip(self) -> None:
        """Ask what is left out, and why."""
        found = skips(self.now)
        if found:
            self._ask(visit_forms.skip(found))

    def repeat(self) -> None:
        """Ask why the last trial is ridden again."""
        self._ask(
            visit_forms.reason(
                "ride the last trial again", lambda why: (acts.TrialRepeated(0, why),)
            )
        )

    def rate(self) -> None:
        """Ask how the last trial felt, once more if need be."""
        if self.visit.state.runs and self.visit.state.run is None:
            self._ask(visit_forms.ratings(self.visit.state.runs[-1].hands))
        else:
            self._note("Ratings are asked after a trial.")

    def write_note(self) -> None:
        """Ask for a note."""
        self._ask(visit_forms.note())

    def gauge(self) -> None:
        """Ask for hardness readings."""
        self._ask(self._bench.gauge(self._code()))

    def facts(self) -> None:
        """Ask for an item's other figures."""
        self._ask(self._bench.facts(self._code()))

    def move(self, lines: int) -> None:
        """Mark another line of the check list."""
        n = len(check_list(self.visit.plan.design))
        self._line = min(max(self._line + lines, 0), n - 1)
        self._look()

    def keep(self, texts: Sequence[str]) -> str:
        """Keep what was typed into the form; return what is wrong with it, empty = it is kept."""
        form = self.form
        if form is None:
            return ""
        try:
            said = form.read(texts)
            if all(isinstance(act, acts.Rated) for act in said):
                now_ns = self.visit.clock.now_ns
                self.visit.do(*(replace(act, t_ns=now_ns) for act in said))
                said = ()
            for act in said:
                self._do(act)
        except BadInput as error:
            return str(error)
        except Exception as error:
            self._fail(error)
        if self.form is form:
            self.form = None
        self._look()
        return ""

    def leave(self) -> None:
        """Leave the form; nothing of it is kept."""
        self.form = None

    def close(self) -> None:
        """Close the visit as it stands; the engine has ended. It is gone on with another time."""
        if not self.fault and self.visit.state.run is not None:
            self._try(lambda: self._ride.close("the program was closed"))
        self.visit.close()

    def _do(self, act: Act) -> None:
        """Do an act of now."""
        if isinstance(act, acts.VisitEnded) and act.reason:
            self.visit.end(act.reason)
        elif isinstance(act, acts.PhotoKept):
            self.visit.keep_photo(Path(act.file).expanduser())
        else:
            self.visit.do(replace(act, t_ns=self.visit.clock.now_ns))
        if isinstance(act, acts.Gauged):
            self._note(gauged_words(act), Level.WELL)
        if isinstance(act, acts.LineDone | acts.LineSkipped | acts.MountingBegun):
            self._line = next_line(replace(self.now, state=self.visit.state, line=self._line))

    def _do_line(self) -> None:
        line = self.now.marked
        if line.entry is Entry.TICK:
            self._do(acts.LineDone(0, line.key))
        else:
            self._ask(visit_forms.check_line(line))

    def _ask_begin(self) -> None:
        self._ask(visit_forms.begin_visit(len(self.visit.plan.visits), self._number))

    def _begin_reset_anew(self) -> None:
        if self.visit.state.ritual:
            self._do(acts.RitualDone(0, RitualMoment.COAST))

    def _wait(self) -> None:
        """Let the time pass, where waits are passed over."""
        waits = [one.left_s for one in self.now.needs if one.left_s > 0]
        if self.visit.clock.fast and waits:
            self.visit.clock.pass_over(waits[0])

    def _code(self) -> str:
        return self.visit.next_code if self.visit.state.visit else ""

    def _ask(self, form: Form) -> None:
        if not self.fault:
            self.form = form

    def _step(self) -> tuple[Next, int]:
        """Return what is next, and since when (monotonic clock)."""
        step = step_of(self.now).next
        if step is not self._next_since[0]:
            self._next_since = (step, self._now_ns())
        since_ns = self._next_since[1]
        return step, since_ns

    def _look(self) -> None:
        self._shown_ns = self._now_ns()
        self.now = self._read()
        self._step()

    def _read(self) -> VisitNow:
        visit, state = self.visit, self.visit.state
        may_need = state.visit > 0 and state.run is None and not self.fault
        return VisitNow(
            visit.plan,
            state,
            visit.header.codes,
            visit.missing() if may_need else (),
            visit.clock.now_ns,
            visit.clock.fast,
            visit.header.rehearsal,
            self._number,
            self._line,
            self.fault,
            self._ride.is_ending,
        )

    def _try(self, act: Callable[[], object]) -> None:
        try:
            act()
        except BadInput as error:
            self._note(str(error))
        except Exception as error:
            self._fail(error)

    def _fail(self, error: Exception) -> None:
        """Stop: what is not kept must not be ridden."""
        if not isinstance(error, PosewatchError):
            logger.exception("the visit stops")
            error = PosewatchError(f"The program failed ({error!r}).", "Go on with the visit anew.")
        self.fault, self.form = str(error), None
        if self._studio.doing is Doing.WATCH:
            self._studio.end()
        self._note(self.fault, Level.FAULT)
        self._look()
