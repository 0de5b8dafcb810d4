"""The weave: one column a stroke, one row a channel; which of them hold, and whether it counts.

Without Qt: what is in it is decided here, ``weave`` paints it. The newest column is the last one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import StrEnum

from posewatch.core.cues import LiveChannel
from posewatch.core.envelope import Target, Unit
from posewatch.core.intervals import MIN_RUN_STROKES
from posewatch.core.outputs import (
    BriefDrift,
    ChannelValue,
    HoldLost,
    Output,
    Phase,
    StrokeJudged,
    ValidInterval,
)
from posewatch.core.records import (
    CAMERA,
    EFFORT_CHANNELS,
    VIEW,
    Channel,
    Command,
    CommandKind,
    Input,
    SourceCondition,
    SourceState,
    Verdict,
)
from posewatch.core.watch_plan import WatchPlan
from posewatch.ui.channel_words import hand_part, limit_text, measured_text, value_text

#: Columns that are kept; no window shows more.
KEPT = 100
#: Deviations of so many tolerances reach a cell's upper or lower end.
REACH = 1.5
#: Runs under way, and what a drift or a run's end may still change, are among the last so many.
OPEN_COLUMNS = 12


class Shade(StrEnum):
    """What a cell says of one channel in one stroke."""

    INSIDE = "inside"
    EDGE = "near its limit"
    OUTSIDE = "outside"
    RESTLESS = "moves too much"
    UNKNOWN = "not known"


class Fate(StrEnum):
    """What became of a stroke."""

    COUNTED = "counted"
    PENDING = "counts once the run is long enough"
    SHORT = "its run was too short to count"
    STEADYING = "good, steadies the hold"
    DRIFT = "brief drift, forgiven and not counted"
    NOT = "not counted"


@dataclass(frozen=True, slots=True)
class Cell:
    """place: -1 to 1, where the tick stands, 1 = above its centre; NaN = there is none."""

    shade: Shade
    place: float


@dataclass(frozen=True, slots=True)
class Column:
    """One stroke; a cell for each row."""

    start_ns: int
    end_ns: int
    cells: tuple[Cell, ...]
    fate: Fate


@dataclass(frozen=True, slots=True)
class Cut:
    """Where the weave is cut: the hold was lost, or strokes are missing. why: in words."""

    t_ns: int
    why: str
    lost: bool


@dataclass(frozen=True, slots=True)
class Row:
    """One channel of the weave; unit None = effort. planned: effort's centre, None = body."""

    channel: Channel
    unit: Unit | None
    tol: float
    inner: float
    required: bool
    planned: float | None = None

    @property
    def limit(self) -> str:
        """Its limit in words, with what is planned."""
        centre = "" if self.planned is None else f"{self.planned:g} "
        return f"{centre}\N{PLUS-MINUS SIGN}{limit_text(self.channel, self.unit, self.tol)}"


@dataclass(frozen=True, slots=True)
class WeaveView:
    """The rows and the last columns; n_columns: how many there ever were.

    broken: why the next column is cut off from the last one; empty = it is not. stopped: what keeps
    any stroke from steadying the hold (a pause, the camera, its view), as long as it goes on.
    """

    rows: tuple[Row, ...]
    columns: tuple[Column | Cut, ...] = ()
    n_columns: int = 0
    broken: str = ""
    stopped: frozenset[str] = frozenset()


def start(target: Target, plan: WatchPlan) -> WeaveView:
    """Return the empty weave: required channels first, then planned effort, then advisory ones."""
    rows = [Row(e.channel, e.unit, e.tol, e.inner, e.required) for e in target.envelopes]
    for channel in EFFORT_CHANNELS:
        planned = plan.effort_centre(channel)
        if planned is not None:
            tol = plan.effort_tolerance(channel)
            rows.append(Row(channel, None, tol, tol, True, planned))
    return WeaveView(tuple(sorted(rows, key=lambda row: not row.required)))


def step(view: WeaveView, item: Input, outputs: tuple[Output, ...]) -> WeaveView:
    """Take in what came out of one input."""
    if isinstance(item, Command) and item.kind in (CommandKind.PAUSE, CommandKind.RESUME):
        pauses = item.kind is CommandKind.PAUSE
        view = _stop(view, "pause", pauses, item.text or "paused")
    elif isinstance(item, SourceState) and item.source in (CAMERA, VIEW):
        is_well = item.condition in (SourceCondition.RUNNING, SourceCondition.ENDED)
        view = _stop(view, item.source, not is_well, f"{item.source} {item.condition}")
    for output in outputs:
        if isinstance(output, StrokeJudged):
            view = _take_stroke(view, output)
        elif isinstance(output, HoldLost):
            view = _add(view, Cut(output.t_ns, _why_lost(output), True))
        elif isinstance(output, BriefDrift):
            view = _refate(view, output.start_ns, output.end_ns, Fate.NOT, Fate.DRIFT)
        elif isinstance(output, ValidInterval) and not output.confirmed:
            view = _refate(view, output.start_ns, output.end_ns, Fate.PENDING, Fate.SHORT)
    return view


def _stop(view: WeaveView, cause: str, begins: bool, why: str) -> WeaveView:
    """Take in what stops or goes on."""
    if not begins:
        return replace(view, stopped=view.stopped - {cause})
    return replace(view, stopped=view.stopped | {cause}, broken=why)


def _why_lost(lost: HoldLost) -> str:
    return f"lost: {lost.reason}" + (f", {lost.channel}" if lost.channel else "")


def _take_stroke(view: WeaveView, stroke: StrokeJudged) -> WeaveView:
    values = {value.channel: value for value in stroke.channels}
    cells = tuple(cell(row, values.get(row.channel)) for row in view.rows)
    column = Column(stroke.start_ns, stroke.end_ns, cells, _fate(stroke, bool(view.stopped)))
    last = view.columns[-1] if view.columns else None
    if isinstance(last, Column) and last.end_ns != stroke.start_ns:
        view = _add(view, Cut(last.end_ns, view.broken or "not ridden or not seen", False))
    view = _add(replace(view, broken=""), column)
    return _confirm(view) if stroke.counted else view


def _fate(stroke: StrokeJudged, stopped: bool) -> Fate:
    if stroke.counted:
        return Fate.PENDING
    steadies = stroke.verdict is Verdict.GOOD and stroke.phase is not Phase.SIT_IN
    return Fate.STEADYING if steadies and not stopped else Fate.NOT


def _add(view: WeaveView, column: Column | Cut) -> WeaveView:
    columns = (*view.columns, column)[-KEPT:]
    return replace(view, columns=columns, n_columns=view.n_columns + 1)


def _refate(view: WeaveView, start_ns: int, end_ns: int, before: Fate, after: Fate) -> WeaveView:
    """Change what became of the strokes of a span."""
    columns = list(view.columns)
    for index in range(max(0, len(columns) - OPEN_COLUMNS), len(columns)):
        one = columns[index]
        if isinstance(one, Column) and one.fate is before and start_ns <= one.start_ns < end_ns:
            columns[index] = replace(one, fate=after)
    return replace(view, columns=tuple(columns))


def _confirm(view: WeaveView) -> WeaveView:
    """Confirm the run that the last column belongs to, if it is long enough."""
    run: list[Column] = []
    for one in reversed(view.columns):
        if not isinstance(one, Column) or one.fate not in (Fate.PENDING, Fate.COUNTED):
            break
        if run and one.end_ns != run[-1].start_ns:
            break
        run.append(one)
        if one.fate is Fate.COUNTED:
            break
    if run[-1].fate is not Fate.COUNTED and len(run) < MIN_RUN_STROKES:
        return view
    return _refate(view, run[-1].start_ns, run[0].end_ns, Fate.PENDING, Fate.COUNTED)


def cell(row: Row, value: ChannelValue | None) -> Cell:
    """Return what a cell shows; value None = the channel was not judged."""
    if value is None or value.verdict is Verdict.UNKNOWN or math.isnan(value.deviation):
        return Cell(Shade.UNKNOWN, math.nan)
    size = value.deviation
    if row.channel is Channel.HAND_PLACE:
        size = math.copysign(size, hand_part(value)[1])
    place = max(-1.0, min(1.0, size / (REACH * row.tol)))
    if value.verdict is Verdict.OUT:
        return Cell(Shade.RESTLESS if value.restless else Shade.OUTSIDE, place)
    return Cell(Shade.EDGE if abs(size) > row.inner else Shade.INSIDE, place)


def live_text(row: Row, live: tuple[LiveChannel, ...]) -> str:
    """Return a channel's value now in whole numbers: how far it is off, effort as it is.

    A dash where it is not known.
    """
    value = next((now.value for now in live if now.value.channel is row.channel), None)
    if value is None:
        return value_text(row.channel, row.unit, math.nan)
    size = value.deviation
    if row.channel is Channel.HAND_PLACE and not math.isnan(size):
        size = math.copysign(size, hand_part(value)[1])
    if row.planned is not None:
        return measured_text(row.channel, row.planned + size)
    return value_text(row.channel, row.unit, size)
