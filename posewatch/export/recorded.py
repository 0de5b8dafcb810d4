"""Reads what is given out: visits of one plan with the log of each trial, or one watch alone."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from posewatch.core.intervals import Tally, add_stroke, end_run
from posewatch.core.marks import LoggedMark, logged_marks
from posewatch.core.outputs import StrokeJudged, ValidInterval
from posewatch.core.records import Command, Frame
from posewatch.core.wall_time import WallClock
from posewatch.errors import BadInput
from posewatch.export.places import Place, place
from posewatch.store.in_use import is_in_use
from posewatch.store.rows import Event
from posewatch.store.session_header import SessionEnding, SessionHeader
from posewatch.store.session_reader import SessionReader, is_session
from posewatch.store.visit_header import KeptAct, VisitHeader
from posewatch.store.visit_record import is_visit, read_visit
from posewatch.trials import conduct
from posewatch.trials.conduct_state import ConductState, Run
from posewatch.trials.plan import PlannedMounting


@dataclass(frozen=True, slots=True)
class Watched:
    """The log of one watch.

    ending: None = it was cut off, or still runs. intervals: as logged; of a watch that was cut off,
    as its strokes give them, so that the run under way at the end is there. recording:
    times are of a clip or recording. in_use: it is being written. first_ns, last_ns: of its frames.
    """

    folder: Path
    header: SessionHeader
    ending: SessionEnding | None
    strokes: tuple[StrokeJudged, ...]
    intervals: tuple[ValidInterval, ...]
    events: tuple[Event, ...]
    commands: tuple[Command, ...]
    clock: WallClock
    recording: bool
    in_use: bool
    first_ns: int
    last_ns: int

    @property
    def marks(self) -> tuple[LoggedMark, ...]:
        """The operator's marks."""
        return logged_marks(self.commands)


@dataclass(frozen=True, slots=True)
class RiddenTrial:
    """One trial as it was ridden.

    visit: its number, None = a watch alone, which has neither planned, code nor run. code: of the
    item. watched: None = it was cut off before its log began.
    """

    visit: int | None
    planned: PlannedMounting | None
    code: str
    run: Run | None
    watched: Watched | None

    @property
    def hands(self) -> str:
        """The hand position."""
        if self.run is not None:
            return self.run.hands
        return "" if self.watched is None else self.watched.header.target.hands


@dataclass(frozen=True, slots=True)
class RecordedVisit:
    """One visit's record. acts: each with its place. state: where the visit stands at its end."""

    folder: Path
    header: VisitHeader
    acts: tuple[tuple[KeptAct, Place], ...]
    state: ConductState

    @property
    def codes(self) -> dict[int, str]:
        """The code of the item of each planned mounting, by the mounting's number."""
        codes = self.header.codes
        return {one.number: codes[one.slot] for one in self.header.plan.mountings}


@dataclass(frozen=True, slots=True)
class Recorded:
    """What is given out: visits of one plan with their trials, or one watch as a trial alone."""

    visits: tuple[RecordedVisit, ...]
    trials: tuple[RiddenTrial, ...]


def read_recorded(folders: Sequence[Path]) -> Recorded:
    """Read the folder of one watch, or those of visits that belong together.

    Raises:
        BadInput: a folder is neither, is damaged, is there twice, or visits do not share a plan
            and a code list.
    """
    if len({os.path.realpath(folder) for folder in folders}) < len(folders):
        raise BadInput("A folder is named twice.", "Name each once.")
    if len(folders) == 1 and not is_visit(folders[0]):
        return Recorded((), (RiddenTrial(None, None, "", None, read_watched(folders[0])),))
    visits = tuple(map(_read_visit, folders))
    first = visits[0]
    for other in visits[1:]:
        if _shared(other.header) != _shared(first.header):
            raise BadInput(
                f"{first.folder} and {other.folder} do not share a plan and a code list, so the "
                "same code may be another item.",
                "Export them one by one.",
            )
        if other.state.visit in [one.state.visit for one in visits if one is not other]:
            raise BadInput(
                f"{other.folder} is visit {other.state.visit}, and so is another one.",
                "Export them one by one.",
            )
    visits = tuple(sorted(visits, key=lambda visit: visit.state.visit))
    return Recorded(visits, tuple(trial for visit in visits for trial in _trials(visit)))


def read_watched(folder: Path, faster_than_life: bool = False) -> Watched:
    """Read the log of one watch.

    Raises:
        BadInput: as ``store.session_reader.SessionReader``.
    """
    with SessionReader(folder) as reader:
        strokes = tuple(reader.strokes())
        logged = tuple(reader.intervals())
        commands, times_ns = [], []
        for _, item in reader.inputs():
            if isinstance(item, Frame):
                times_ns.append(item.t_ns)
            elif isinstance(item, Command):
                commands.append(item)
        anchors = tuple((anchor.t_ns, anchor.wall_ns) for anchor in reader.anchors())
        # The wall clock tells nothing of a clip or recording that runs at another speed.
        recording = faster_than_life or reader.header.stream.n_frames > 0
        return Watched(
            folder,
            reader.header,
            reader.ending,
            strokes,
            runs(strokes) if reader.ending is None else logged,
            tuple(reader.events()),
            tuple(commands),
            WallClock(anchors[:1] if recording else anchors),
            recording,
            is_in_use(folder),
            min(times_ns, default=0),
            max(times_ns, default=0),
        )


def runs(strokes: Sequence[StrokeJudged]) -> tuple[ValidInterval, ...]:
    """Return the valid intervals that judged strokes make."""
    tally, found = Tally(), []
    for stroke in strokes:
        if stroke.counted:
            tally, ended = add_stroke(tally, stroke.start_ns, stroke.end_ns)
            found.append(ended)
    found.append(end_run(tally)[1])
    return tuple(run for run in found if run is not None)


def _shared(header: VisitHeader) -> tuple[object, ...]:
    return header.plan_sha256, header.sealed_sha256, header.codes


def _read_visit(folder: Path) -> RecordedVisit:
    header, kept = read_visit(folder)
    state, placed = ConductState(), []
    for one in kept:
        before = state
        try:
            state = conduct.step(header.plan, before, one.act)
        except BadInput as error:
            raise BadInput(
                f"The visit {folder} cannot be used: its act {one.seq} could not have been "
                f"({error.what})",
                "It was altered; restore it from a copy.",
            ) from error
        placed.append((one, place(header.plan, before, one.act, state)))
    return RecordedVisit(folder, header, tuple(placed), state)


def _trials(visit: RecordedVisit) -> list[RiddenTrial]:
    planned = {one.number: one for one in visit.header.plan.mountings}
    found = []
    for run in visit.state.runs:
        folder = visit.folder / run.folder
        # A trial may be cut off between its place in the record and the first row of its log.
        watched = read_watched(folder, visit.header.fast) if is_session(folder) else None
        mounting = planned[run.mounting]
        code = visit.codes[run.mounting]
        found.append(RiddenTrial(visit.state.visit, mounting, code, run, watched))
    return found
