"""Tables of what was asked, ticked and marked in visits."""

from __future__ import annotations

from collections.abc import Iterator

from posewatch.core.records import CommandKind
from posewatch.core.timebase import to_s
from posewatch.export.columns import Row, Table, count, moment, number, text, truth
from posewatch.export.places import Place
from posewatch.export.recorded import Recorded, RecordedVisit, RiddenTrial
from posewatch.export.ride_tables import PLACE, place_of
from posewatch.store.rows import to_document
from posewatch.store.visit_header import KeptAct
from posewatch.store.visit_rows import act_row
from posewatch.trials import acts
from posewatch.trials.acts import Act
from posewatch.trials.check_list import check_list
from posewatch.trials.kinds import CheckLine

WHEN = (
    number("visit_s", "seconds on the visit's clock"),
    moment("utc", "visit_s as wall time"),
)
MOUNTING = PLACE[:3]

RATINGS = (
    *PLACE,
    text("region", "of the body"),
    text("scale", "comfort: 10 = as comfortable as can be; pain: 10 = as bad as can be"),
    number("value", "0 to 10; empty = not asked, which is another thing than 0"),
    *WHEN,
)
GUESSES = (
    *MOUNTING,
    text("guess", "letter on the rider's card; empty = does not know"),
    count("confidence", "0 (none) to 10 (certain)"),
    text("reason", "in the rider's words"),
    *WHEN,
)
CHECKS = (
    *MOUNTING,
    text("line", "key of the line"),
    text("what", "the line as it is read"),
    text("value", "what was read; empty = ticked, or left out"),
    text("unit", "unit of the value"),
    text("left_out_because", "empty = done"),
    *WHEN,
)
MARKS = (
    *PLACE,
    text("kind", "mark, pause, resume; or an act of the visit"),
    count("number", "of a mark in its trial, from 1"),
    text("label", "what was written, or what the act says"),
    truth("withdrawn", "the mark was taken back"),
    number("session_s", "session seconds of its trial; empty for acts of the visit"),
    number("visit_s", "seconds on the visit's clock; empty for marks in a trial's log"),
    moment("utc", "as wall time"),
)
#: What has a table of its own, or says again what the trial's log says.
_NOT_MARKS = (
    acts.Rated,
    acts.Guessed,
    acts.LineDone,
    acts.LineSkipped,
    acts.Gauged,
    acts.ItemFact,
    acts.HoldSeen,
)


def visit_tables(recorded: Recorded) -> tuple[Table, ...]:
    """Return the tables of what was asked and ticked."""
    ratings: list[Row] = []
    guesses: list[Row] = []
    checks: list[Row] = []
    for visit in recorded.visits:
        lines = {line.key: line for line in check_list(visit.header.plan.design)}
        for kept, where in visit.acts:
            place, when = place_in(visit, where), when_of(kept)
            match kept.act:
                case acts.Rated() as act:
                    ratings.append((*place, act.region, act.scale, act.value, *when))
                case acts.Guessed() as act:
                    said = (act.guess or "", act.confidence, act.reason)
                    guesses.append((*place[:3], *said, *when))
                case acts.LineDone() as act:
                    checks.append((*place[:3], *_line(lines[act.line], act.value, ""), *when))
                case acts.LineSkipped() as act:
                    checks.append((*place[:3], *_line(lines[act.line], "", act.reason), *when))
    return (
        Table("ratings", "one row for each answer; the last of its kind stands", RATINGS, ratings),
        Table("guesses", "which item the rider took it for; the last stands", GUESSES, guesses),
        Table("mounting_checks", "the check list; the last of a line stands", CHECKS, checks),
    )


def marks_table(recorded: Recorded) -> Table:
    """Return the table of moments: marks in the trials' logs, and what was done in the visits."""
    about = "one row for each mark of the operator in a trial's log, and each act of a visit"
    rows = [row for visit in recorded.visits for row in _acts(visit)]
    rows += [row for trial in recorded.trials for row in _marks(trial)]
    return Table("marks", about, MARKS, rows)


def place_in(visit: RecordedVisit, where: Place) -> Row:
    """Return the cells of ``PLACE``."""
    code = "" if where.mounting is None else visit.codes[where.mounting]
    numbers = (visit.state.visit, where.mounting, code)
    return *numbers, where.trial, where.attempt, where.hands


def when_of(kept: KeptAct) -> Row:
    """Return the cells of ``WHEN``."""
    return to_s(kept.act.t_ns), kept.wall_ns


def _line(line: CheckLine, value: str, left_out: str) -> Row:
    return line.key, line.text, value, line.unit, left_out


def _acts(visit: RecordedVisit) -> Iterator[Row]:
    for kept, where in visit.acts:
        if not isinstance(kept.act, _NOT_MARKS):
            kind = act_row(kept.act, kept.wall_ns)[2]
            told = (kind, None, _words(kept.act), False, None)
            yield *place_in(visit, where), *told, *when_of(kept)


def _words(act: Act) -> str:
    """Return what an act says besides its time: "need: warm-up; reason: late"."""
    said = to_document(act)
    del said["t_ns"]
    return "; ".join(f"{key}: {value}" for key, value in said.items() if value not in ("", None))


def _marks(trial: RiddenTrial) -> Iterator[Row]:
    watched = trial.watched
    if watched is None:
        return
    pauses = [
        (command.kind, None, command.text, False, command.t_ns)
        for command in watched.commands
        if command.kind in (CommandKind.PAUSE, CommandKind.RESUME)
    ]
    marks = [("mark", one.number, one.label, one.withdrawn, one.t_ns) for one in watched.marks]
    for *told, t_ns in sorted([*pauses, *marks], key=lambda row: row[-1]):
        yield *place_of(trial), *told, to_s(t_ns), None, watched.clock.at(t_ns)
