"""Rows of the session database and what they stand for, in both directions.

JSON has no NaN: it is kept as null and read back as NaN where the record's field is a number that
cannot be missing.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import asdict
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar, get_type_hints

import numpy as np
from pydantic import TypeAdapter

from posewatch.core import landmark_codec
from posewatch.core.envelope import Unit
from posewatch.core.landmark_codec import StoredLandmarks
from posewatch.core.outputs import (
    BriefDrift,
    CadenceDiffers,
    ChannelValue,
    CreepWarning,
    CueChanged,
    Figure,
    HoldGained,
    HoldLost,
    LengthsDiffer,
    Measure,
    Output,
    Phase,
    Reason,
    SmoothnessFlag,
    SmoothnessMean,
    StrokeJudged,
    ValidInterval,
)
from posewatch.core.records import (
    N_LANDMARKS,
    Channel,
    Command,
    DrivenTurn,
    Effort,
    Frame,
    Input,
    SourceState,
    Tick,
    Verdict,
)
from posewatch.core.sensor_records import Packet
from posewatch.store.session_header import HowEnded, SessionEnding

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

Row = tuple[Any, ...]
Event = (
    HoldGained
    | HoldLost
    | BriefDrift
    | CueChanged
    | CreepWarning
    | LengthsDiffer
    | CadenceDiffers
    | SmoothnessFlag
    | SmoothnessMean
)
EVENT_COLUMNS = 9
ONE_LEG, BOTH_LEGS = "one leg", "both legs"
T = TypeVar("T", bound="DataclassInstance")

POINT_BYTES = N_LANDMARKS * 2 * 2
FRAME_BYTES = POINT_BYTES + 2 * N_LANDMARKS
INPUT_KINDS: dict[
    str, type[Effort] | type[DrivenTurn] | type[SourceState] | type[Tick] | type[Command]
] = {
    "effort": Effort,
    "driven turn": DrivenTurn,
    "source": SourceState,
    "tick": Tick,
    "command": Command,
}
_KIND_NAMES = {kind: name for name, kind in INPUT_KINDS.items()}


def to_document(record: DataclassInstance) -> dict[str, Any]:
    """Return a flat dataclass as a JSON-ready mapping; NaN becomes None, a path its text."""
    return {name: _plain(value) for name, value in asdict(record).items()}


def _plain(value: Any) -> Any:
    if isinstance(value, float) and math.isnan(value):
        return None
    return str(value) if isinstance(value, Path) else value


def from_document(kind: type[T], document: Mapping[str, Any]) -> T:
    """Return the dataclass that :func:`to_document` was given.

    Raises:
        ValueError: the mapping does not hold such a record.
    """
    adapter, number_names = _reader(kind)
    filled = {
        name: math.nan if value is None and name in number_names else value
        for name, value in document.items()
    }
    record: T = adapter.validate_python(filled)
    return record


@cache
def _reader(kind: type[Any]) -> tuple[TypeAdapter[Any], frozenset[str]]:
    hints = get_type_hints(kind)
    return TypeAdapter(kind), frozenset(name for name, hint in hints.items() if hint is float)


def to_json(value: object) -> str:
    """Return compact JSON."""
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"), allow_nan=False)


def input_row(seq: int, item: Input) -> Row:
    """Return the row of one input, in the order of the inputs table."""
    if isinstance(item, Frame):
        stored = landmark_codec.encode(item.points_px, item.visibility, item.presence)
        payload = (
            stored.points.astype("<i2").tobytes()
            + stored.visibility.tobytes()
            + stored.presence.tobytes()
        )
        return seq, item.t_ns, "frame", payload
    if isinstance(item, Packet):
        document = {"device": item.device, "characteristic": item.characteristic}
        return seq, item.t_ns, "packet", to_json(document | {"data": item.data.hex()}).encode()
    document = to_document(item)
    del document["t_ns"]  # has a column of its own
    return seq, item.t_ns, _KIND_NAMES[type(item)], to_json(document).encode()


def input_from_row(row: Row) -> tuple[int, Input]:
    """Return the sequence number and the input of one row.

    Raises:
        ValueError: the row holds no input.
    """
    seq, t_ns, kind, payload = row
    if kind == "frame":
        if len(payload) != FRAME_BYTES:
            raise ValueError(f"input {seq} holds {len(payload)} bytes, not {FRAME_BYTES}")
        levels = np.frombuffer(payload, np.uint8, offset=POINT_BYTES)
        stored = StoredLandmarks(
            np.frombuffer(payload, "<i2", 2 * N_LANDMARKS).reshape(N_LANDMARKS, 2),
            levels[:N_LANDMARKS],
            levels[N_LANDMARKS:],
        )
        return seq, landmark_codec.decode(t_ns, stored)
    if kind == "packet":
        said = json.loads(payload)
        data = bytes.fromhex(said["data"])
        return seq, Packet(t_ns, said["device"], said["characteristic"], data)
    if kind not in INPUT_KINDS:
        raise ValueError(f"input {seq} is of the unknown kind {kind!r}")
    return seq, from_document(INPUT_KINDS[kind], json.loads(payload) | {"t_ns": t_ns})


def output_row(output: Output) -> tuple[str, Row]:
    """Return the table of one output and its row there."""
    match output:
        case StrokeJudged():
            channels = to_json([to_document(value) for value in output.channels])
            judged = (output.verdict, output.counted, output.phase, output.reason)
            return "strokes", (output.start_ns, output.end_ns, *judged, channels)
        case ValidInterval():
            counted = (output.n_strokes, output.confirmed)
            return "intervals", (output.start_ns, output.end_ns, *counted)
        case HoldGained():
            return "events", _event_row("gained", output.t_ns)
        case HoldLost():
            cause = (output.reason, output.channel, output.direction)
            return "events", _event_row("lost", output.t_ns, None, None, *cause)
        case BriefDrift():
            span = (output.start_ns, output.end_ns, output.n_strokes)
            return "events", _event_row(
                "brief drift", *span, None, output.channel, output.direction
            )
        case CueChanged():
            cue = (None, output.channel, output.direction)
            return "events", _event_row("cue", output.t_ns, None, None, *cue)
        case CreepWarning():
            creep = (output.channel, output.unit, output.change, output.span_ns)
            return "events", _event_row("creep", output.t_ns, None, None, None, *creep)
        case LengthsDiffer():
            differ = (None, None, output.segment, output.share)
            return "events", _event_row("lengths differ", output.t_ns, None, None, *differ)
        case CadenceDiffers():
            off = (None, None, None, output.difference_rpm)
            return "events", _event_row("cadence differs", output.t_ns, None, None, *off)
        case SmoothnessFlag():
            flag = (None, None, output.measure, output.cv_pct)
            return "events", _event_row("unsteady", output.t_ns, None, None, *flag)
        case SmoothnessMean():
            legs = ONE_LEG if output.per_leg else BOTH_LEGS
            mean = (output.n_turns, legs, None, output.figure, output.mean_pct)
            return "events", _event_row("smoothness", output.t_ns, None, *mean)


def _event_row(*values: object) -> Row:
    """Return a row of the events table; columns at its end that an event lacks are null."""
    return values + (None,) * (EVENT_COLUMNS - len(values))


def stroke_from_row(row: Row) -> StrokeJudged:
    """Return the judged stroke of one row; ValueError where it holds none."""
    start_ns, end_ns, verdict, counted, phase, reason, channels = row
    return StrokeJudged(
        start_ns,
        end_ns,
        Verdict(verdict),
        bool(counted),
        Phase(phase),
        tuple(from_document(ChannelValue, value) for value in json.loads(channels)),
        None if reason is None else Reason(reason),
    )


def interval_from_row(row: Row) -> ValidInterval:
    """Return the valid interval of one row."""
    start_ns, end_ns, n_strokes, confirmed = row
    return ValidInterval(start_ns, end_ns, n_strokes, bool(confirmed))


def event_from_row(row: Row) -> Event:
    """Return the event of one row; ValueError where it holds none."""
    kind, t_ns, end_ns, n_strokes, reason, channel_name, direction, change, span_ns = row
    channel = None if channel_name is None else Channel(channel_name)
    match kind:
        case "gained":
            return HoldGained(t_ns)
        case "lost":
            return HoldLost(t_ns, Reason(reason), channel, direction)
        case "brief drift":
            return BriefDrift(t_ns, end_ns, n_strokes, channel, direction)
        case "cue":
            return CueChanged(t_ns, channel, direction)
        case "creep":
            return CreepWarning(t_ns, Channel(channel_name), change, span_ns, Unit(direction))
        case "lengths differ":
            return LengthsDiffer(t_ns, direction, change)
        case "cadence differs":
            return CadenceDiffers(t_ns, change)
        case "unsteady":
            return SmoothnessFlag(t_ns, Measure(direction), change)
        case "smoothness":
            return SmoothnessMean(t_ns, Figure(direction), change, n_strokes, reason == ONE_LEG)
    raise ValueError(f"an event is of the unknown kind {kind!r}")


def ending_row(ending: SessionEnding) -> Row:
    """Return the only row of the ending table."""
    totals = (ending.n_counted, ending.counted_ns, ending.n_intervals)
    dropped = to_json(dict(ending.dropped))
    return ending.how, ending.n_frames, ending.watched_ns, *totals, dropped, ending.message


def ending_from_row(row: Row) -> SessionEnding:
    """Return the ending of its row; ValueError where it holds none."""
    how, n_frames, watched_ns, n_counted, counted_ns, n_intervals, dropped, message = row
    return SessionEnding(
        how=HowEnded(how),
        n_frames=n_frames,
        watched_ns=watched_ns,
        n_counted=n_counted,
        counted_ns=counted_ns,
        n_intervals=n_intervals,
        dropped=json.loads(dropped),
        message=message,
    )
