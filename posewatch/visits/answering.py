"""Who answers what a visit asks, a person at the keys or an answers file, and where it is shown."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Protocol

from posewatch.app import Watcher, WatchResult
from posewatch.core.outputs import Output
from posewatch.core.pipeline import PipelineState
from posewatch.core.records import Input
from posewatch.store.answers_file import AnswersDocument, RatingPart, entered_text
from posewatch.trials import acts
from posewatch.trials.acts import Act
from posewatch.trials.conduct_state import ConductState, Run
from posewatch.trials.kinds import CheckLine
from posewatch.trials.ratings import Region, Scale
from posewatch.trials.start_needs import Missing
from posewatch.visits.visit import Visit

NOT_THERE = "not in the answers file"


class Choice(StrEnum):
    """What may be done between trials.

    RECORD: something is written down, and asked again. SKIP: what is next is left out. MOUNTING:
    the mounting under way is left. STOP: the visit is left as it stands. END: it ends here.
    """

    GO_ON = "go on"
    RECORD = "record"
    REPEAT = "repeat the last trial"
    SKIP = "skip this"
    MOUNTING = "leave this mounting"
    STOP = "stop for now"
    END = "end the visit"


@dataclass(frozen=True, slots=True)
class Wish:
    """What is to be done. reason: why, where it needs one. act: to be recorded, not yet timed."""

    choice: Choice
    reason: str = ""
    act: Act | None = None

    def to_do(self, skip: Callable[[int, str], Act] | None) -> Act:
        """Return the act of it, not yet timed; skip: how what is next is left out."""
        if self.act is not None:
            return self.act
        if self.choice is Choice.REPEAT:
            return acts.TrialRepeated(0, self.reason)
        if self.choice is Choice.MOUNTING or skip is None:
            return acts.MountingSkipped(0, self.reason)
        return skip(0, self.reason)


def choices(state: ConductState, can_skip: bool) -> list[Choice]:
    """Return what may be done now; can_skip: what is next may be left out."""
    last, mounting = state.runs[-1] if state.runs else None, state.mounting
    here = mounting is not None and last is not None and last.mounting == mounting.number
    can_do = {
        Choice.REPEAT: here and last is not None and not last.repeated,
        Choice.SKIP: can_skip,
        Choice.MOUNTING: mounting is not None and can_skip,
    }
    return [one for one in Choice if can_do.get(one, True)]


class Answerer(Protocol):
    """Answers what a visit asks; acts come back with any time, which is set when they are kept.

    attended: somebody is there whom one can ask again.
    """

    attended: bool

    def operator(self) -> str:
        """Return who runs the visit, empty = not said."""

    def choose(self, what: str, choices: Sequence[Choice]) -> Wish:
        """Return what is to be done; what: what is next, for people."""

    def line(self, mounting: int, line: CheckLine) -> acts.LineDone | acts.LineSkipped:
        """Return what is said of a line of the check list."""

    def rate(self, run: Run) -> Iterable[acts.Rated]:
        """Return how the trial felt, every region on every scale."""

    def guess(self, mounting: int) -> acts.Guessed | None:
        """Return which item the rider takes it for, None = not asked."""

    def why(self, missing: Missing) -> str:
        """Return why something that is missing is passed over, empty = it is not."""

    def broken_off(self) -> str:
        """Return why the trial was broken off."""

    def pause(self) -> str:
        """Return why the trial is to be paused now, empty = it is not; asked all the time."""


class Riding(Protocol):
    """What is shown of the trial that is ridden."""

    def opened(self, n_expected: int) -> None:
        """Tell how many pictures are expected, 0 = not known."""

    def seen(self, item: Input, state: PipelineState, said: tuple[Output, ...]) -> None:
        """Tell what came in and what was said of it."""

    def ended(self, result: WatchResult) -> None:
        """Tell what the trial came to."""


class Screen(Protocol):
    """Where people read how the visit goes."""

    def say(self, text: str) -> None:
        """Print a line."""

    def left(self, text: str, left_s: float) -> None:
        """Tell how long is still to be waited, about once a second; 0 = it is over."""

    def riding(self, watcher: Watcher) -> AbstractContextManager[Riding]:
        """Show a trial; meanwhile Ctrl+C sets ``watcher.stop``."""


class FileAnswers:
    """Answers from a file; what of it an earlier sitting of the visit has recorded is left out."""

    attended = False

    def __init__(self, answers: AnswersDocument, visit: Visit) -> None:
        self._answers = answers
        code_of = visit.header.code_of
        asides: list[Act] = [acts.Noted(0, text) for text in answers.notes]
        asides += [one.gauged(code_of(one.item)) for one in answers.hardness]
        asides += [one.known(code_of(one.item)) for one in answers.facts]
        rated = sorted({place for place, _ in visit.state.ratings})
        asides += [note for place in rated for note in self._notes(visit.state.runs[place])]
        there = Counter(replace(kept.act, t_ns=0) for kept in visit.found)
        wanted = Counter(asides)
        self._asides = list((wanted - there).elements())

    def operator(self) -> str:
        """As :class:`Answerer`."""
        return self._answers.operator

    def choose(self, what: str, choices: Sequence[Choice]) -> Wish:
        """Record what is to be recorded, then go on."""
        if self._asides:
            return Wish(Choice.RECORD, act=self._asides.pop(0))
        return Wish(Choice.GO_ON)

    def line(self, mounting: int, line: CheckLine) -> acts.LineDone | acts.LineSkipped:
        """As :class:`Answerer`; what a mounting says goes before what is said of all."""
        for part in (self._answers.mounting(mounting), self._answers):
            if line.key in part.check_list:
                return acts.LineDone(0, line.key, entered_text(part.check_list[line.key]))
            if line.key in part.left_out:
                return acts.LineSkipped(0, line.key, part.left_out[line.key])
        return acts.LineSkipped(0, line.key, NOT_THERE)

    def rate(self, run: Run) -> Iterable[acts.Rated]:
        """As :class:`Answerer`."""
        said = self._answers.mounting(run.mounting).trials.get(run.hands)
        for region in Region:
            rating = RatingPart() if said is None else said.ratings.get(region, RatingPart())
            yield acts.Rated(0, region, Scale.COMFORT, rating.comfort)
            yield acts.Rated(0, region, Scale.PAIN, rating.pain)
        self._asides += self._notes(run)

    def _notes(self, run: Run) -> list[Act]:
        """Return what is noted of a trial, kept once it is rated."""
        said = self._answers.mounting(run.mounting).trials.get(run.hands)
        return [] if said is None or not said.note else [acts.Noted(0, said.note)]

    def guess(self, mounting: int) -> acts.Guessed | None:
        """As :class:`Answerer`."""
        said = self._answers.mounting(mounting).guess
        return None if said is None else acts.Guessed(0, said.guess, said.confidence, said.reason)

    def why(self, missing: Missing) -> str:
        """As :class:`Answerer`."""
        said = (why for need, why in self._answers.passed_over.items() if need is missing.need)
        return next(said, "")

    def broken_off(self) -> str:
        """As :class:`Answerer`."""
        return "Ctrl+C"

    def pause(self) -> str:
        """Nobody is there who could."""
        return ""
