"""Is a recording whole, and does it say what its inputs say? Read, recomputed, compared.

Of one watch, or of a visit with the watch of each trial. Nothing is changed. What was cut off is
whole as far as it goes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass, field, fields
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

from posewatch import __version__
from posewatch.core.outputs import Output, StrokeJudged, ValidInterval
from posewatch.core.records import CLOCK, Input, SourceState
from posewatch.core.timebase import clock_text, to_s
from posewatch.errors import BadInput
from posewatch.replaying import Recomputed, recompute
from posewatch.runtime.watch_run import WatchTotals
from posewatch.store.photos import photo_damage
from posewatch.store.session_header import SessionEnding, SessionHeader
from posewatch.store.session_reader import SessionReader, is_session
from posewatch.store.soundness import file_damage
from posewatch.store.visit_header import KeptAct, VisitHeader
from posewatch.store.visit_record import read_visit
from posewatch.store.visit_schema import FILE_NAME as VISIT_FILE
from posewatch.trials import conduct
from posewatch.trials.acts import PhotoKept
from posewatch.trials.conduct_state import ConductState, Run
from posewatch.video_checking import LoggedPictures, check_video

#: Another machine, or another version of numpy, may differ in the last digits.
ROUNDING, ROUNDING_NS = 1e-9, 1000
#: Libraries whose version may change the last digits of what is recomputed.
COMPUTED_WITH = ("numpy",)
TOTALS = ("n_frames", "watched_ns", "n_counted", "counted_ns", "n_intervals")


@dataclass(slots=True)
class SessionCheck:
    """What a check of one watch found.

    header: None = it cannot be read. totals: recomputed from the inputs, None = they could not be.
    wrong: what is not as it should be, one sentence each. notes: what is no fault but good to know.
    """

    folder: Path
    header: SessionHeader | None = None
    finished: bool = False
    n_inputs: int = 0
    n_strokes: int = 0
    totals: WatchTotals | None = None
    wrong: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


@dataclass(slots=True)
class VisitCheck:
    """What a check of a visit found; trials: the watch of each, in the order ridden.

    header: None = it cannot be read. state: where it stands. wrong, notes: as of a watch.
    """

    folder: Path
    header: VisitHeader | None = None
    n_acts: int = 0
    state: ConductState = ConductState()
    trials: list[SessionCheck] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    @property
    def all_wrong(self) -> list[str]:
        """What is wrong in the visit and in its trials."""
        return [*self.wrong, *(line for trial in self.trials for line in trial.wrong)]


def check_session(folder: Path, on_input: Callable[[], None] = lambda: None) -> SessionCheck:
    """Check one watch; what is wrong is told, never raised. on_input: called with every input."""
    found = SessionCheck(folder)
    try:
        with SessionReader(folder) as reader:
            _check(reader, found, on_input)
    except BadInput as error:
        found.wrong.append(str(error))
    return found


def _check(reader: SessionReader, found: SessionCheck, on_input: Callable[[], None]) -> None:
    found.header, found.finished = reader.header, reader.ending is not None
    found.wrong += [f"The file is damaged: {line}." for line in reader.damage()]
    found.notes += _other_versions(reader.header)
    holes: list[str] = []
    logged = LoggedPictures()

    def inputs() -> Iterator[Input]:
        expected = 0
        for seq, item in reader.inputs():
            if seq != expected:
                holes.append(f"Of the inputs, {seq - expected} from number {expected} are missing.")
            expected = seq + 1
            found.n_inputs += 1
            if isinstance(item, SourceState) and item.source == CLOCK:
                found.notes.append(f"{clock_text(item.t_ns)}: {item.text}")
            logged.hear(item)
            yield item
            on_input()

    again = recompute(reader.header, inputs())
    found.totals = again.totals
    found.wrong += holes
    found.wrong += _differences(reader, again, found)
    if reader.ending is not None:
        found.wrong += _other_totals(reader.ending, again.totals)
    video = check_video(found.folder, reader.header, logged, found.finished, on_input)
    found.wrong += video.wrong
    found.notes += video.notes


def _differences(reader: SessionReader, again: Recomputed, found: SessionCheck) -> list[str]:
    """Compare what was recorded with what the inputs give now."""
    # The last outputs of a watch that was cut off were never said.
    outputs = (*again.outputs, *again.last) if found.finished else again.outputs
    strokes = list(reader.strokes())
    found.n_strokes = len(strokes)
    told = [o for o in outputs if not isinstance(o, StrokeJudged | ValidInterval)]
    return [
        *_first_difference("stroke", strokes, [o for o in outputs if isinstance(o, StrokeJudged)]),
        *_first_difference(
            "interval",
            list(reader.intervals()),
            [o for o in outputs if isinstance(o, ValidInterval)],
        ),
        *_first_difference("event", list(reader.events()), told),
    ]


def _first_difference(
    what: str, recorded: Sequence[Output], again: Sequence[Output]
) -> Iterator[str]:
    if len(recorded) != len(again):
        yield f"{len(recorded)} {what}s are recorded, {len(again)} come out of the inputs."
    for number, (one, other) in enumerate(zip(recorded, again, strict=False), 1):
        names = _unlike(one, other)
        if names:
            yield (
                f"{what.capitalize()} {number} is recorded otherwise than it comes out of the "
                f"inputs: {', '.join(names)}."
            )
            return


def _unlike(one: Output, other: Output) -> list[str]:
    """Return the names of what differs, more than in the last digits."""
    if type(one) is not type(other):
        return [f"{type(one).__name__} and {type(other).__name__}"]
    return [
        each.name
        for each in fields(one)
        if not _alike(_plain(getattr(one, each.name)), _plain(getattr(other, each.name)), each.name)
    ]


def _plain(value: object) -> object:
    """Return a field's value with dataclasses in it as mappings."""
    if isinstance(value, tuple):
        return [asdict(part) for part in value]
    return value


def _alike(one: object, other: object, name: str = "") -> bool:
    """Tell whether two values are the same but for rounding; of whole numbers only times round."""
    if isinstance(one, float) and isinstance(other, float):
        both_unknown = math.isnan(one) and math.isnan(other)
        return both_unknown or math.isclose(one, other, rel_tol=ROUNDING, abs_tol=ROUNDING)
    if type(one) is int and type(other) is int and name.endswith("_ns"):
        return abs(one - other) <= ROUNDING_NS
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(_alike(one[k], other[k], k) for k in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(_alike, one, other))
    return one == other


def _other_totals(ending: SessionEnding, totals: WatchTotals) -> list[str]:
    return [
        f"The ending says {name} = {getattr(ending, name)}; from the inputs it is "
        f"{getattr(totals, name)}."
        for name in TOTALS
        if not _alike(getattr(ending, name), getattr(totals, name), name)
    ]


def _other_versions(header: SessionHeader) -> list[str]:
    """Tell what it was recorded with, where that is not what recomputes it."""
    here = {"posewatch": __version__}
    for name in COMPUTED_WITH:
        try:
            here[name] = version(name)
        except PackageNotFoundError:
            continue
    return [
        f"recorded with {name} {header.versions[name]}, recomputed with {own}"
        for name, own in here.items()
        if header.versions.get(name, own) != own
    ]


def check_visit(folder: Path, on_input: Callable[[], None] = lambda: None) -> VisitCheck:
    """Check a visit and each of its trials; what is wrong is told, never raised."""
    found = VisitCheck(folder)
    found.wrong += [f"The record is damaged: {line}." for line in file_damage(folder / VISIT_FILE)]
    try:
        found.header, kept = read_visit(folder)
    except BadInput as error:
        found.wrong.append(str(error))
        return found
    found.n_acts = len(kept)
    found.state = _conducted(found.header, kept, found.wrong)
    for run in found.state.runs:
        if is_session(folder / run.folder):
            trial = check_session(folder / run.folder, on_input)
            trial.wrong += _trial_differs(found.header, run, trial)
            found.trials.append(trial)
        elif run.n_confirmed or (run.ended_ns is not None and not run.broken_off):
            found.wrong.append(f"The log of {run.folder} is gone.")
        else:
            found.notes.append(f"{run.folder} was cut off before its log began")
    photos = [one.act for one in kept if isinstance(one.act, PhotoKept)]
    found.wrong += filter(None, (photo_damage(folder, one.file, one.sha256) for one in photos))
    known = {run.folder for run in found.state.runs}
    stray = sorted(f"trials/{path.name}" for path in folder.glob("trials/*"))
    found.wrong += [f"Nothing in the record speaks of {one}." for one in stray if one not in known]
    return found


def _conducted(header: VisitHeader, kept: Sequence[KeptAct], wrong: list[str]) -> ConductState:
    """Do the acts again; each must have been possible when it was done."""
    state, t_ns = ConductState(), 0
    for number, one in enumerate(kept, 1):
        if one.seq != number:
            wrong.append(f"Between act {number - 1} and {one.seq} some are missing.")
            break
        if one.act.t_ns < t_ns:
            wrong.append(f"Act {number} is earlier than the one before it.")
        t_ns = one.act.t_ns
        try:
            state = conduct.step(header.plan, state, one.act)
        except BadInput as error:
            wrong.append(f"Act {number} ({type(one.act).__name__}) was not possible: {error.what}")
            break
    return state


def _trial_differs(header: VisitHeader, run: Run, trial: SessionCheck) -> Iterator[str]:
    """Hold the log of a trial against what the visit says of it."""
    design = header.plan.design
    if trial.header is not None:
        target = trial.header.target
        ridden = (target.rider, target.bike, target.hands)
        if ridden != (design.rider, design.bike, run.hands):
            yield (
                f"{run.folder} was ridden against {'/'.join(ridden)}, but was to be "
                f"{design.rider}/{design.bike}/{run.hands}."
            )
    if run.ended_ns is None or trial.totals is None:
        return
    said = (run.n_confirmed, run.counted_ns)
    counted = (trial.totals.n_counted, trial.totals.counted_ns)
    if said[0] != counted[0] or not _alike(said[1], counted[1], "counted_ns"):
        yield (
            f"{run.folder} was closed with {said[0]} counted strokes in {to_s(said[1]):.3f} s; its "
            f"log gives {counted[0]} in {to_s(counted[1]):.3f} s."
        )
