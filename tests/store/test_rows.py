"""Every input and output comes back from its row as it went in."""

from __future__ import annotations

import dataclasses
import math
import sqlite3

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

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
    Channel,
    Command,
    CommandKind,
    DrivenTurn,
    Effort,
    Frame,
    Input,
    SourceCondition,
    SourceState,
    Tick,
    Verdict,
)
from posewatch.store import rows, schema
from posewatch.store.session_header import HowEnded, SessionEnding

TIMES = st.integers(-(2**62), 2**62)
NUMBERS = st.floats(allow_infinity=False)
KNOWN_NUMBERS = st.floats(allow_nan=False, allow_infinity=False)
TEXTS = st.text(max_size=20)
MAYBE_CHANNEL = st.none() | st.sampled_from(Channel)
CHANNEL_VALUES = st.builds(
    ChannelValue,
    st.sampled_from(Channel),
    NUMBERS,
    NUMBERS,
    st.sampled_from(Verdict),
    st.booleans(),
    st.none() | st.sampled_from(Reason),
    NUMBERS,
    NUMBERS,
)
SMALL_INPUTS = st.one_of(
    st.builds(Effort, TIMES, NUMBERS, NUMBERS),
    st.builds(DrivenTurn, TIMES, NUMBERS, NUMBERS, st.booleans()),
    st.builds(SourceState, TIMES, TEXTS, st.sampled_from(SourceCondition), TEXTS),
    st.builds(Tick, TIMES),
    st.builds(Command, TIMES, st.sampled_from(CommandKind), TEXTS),
)
EVENTS = st.one_of(
    st.builds(HoldGained, TIMES),
    st.builds(HoldLost, TIMES, st.sampled_from(Reason), MAYBE_CHANNEL, TEXTS),
    st.builds(BriefDrift, TIMES, TIMES, st.integers(0, 99), MAYBE_CHANNEL, TEXTS),
    st.builds(CueChanged, TIMES, MAYBE_CHANNEL, TEXTS),
    st.builds(
        CreepWarning,
        TIMES,
        st.sampled_from(Channel),
        KNOWN_NUMBERS,
        TIMES,
        st.sampled_from(Unit),
    ),
    st.builds(
        LengthsDiffer,
        TIMES,
        st.sampled_from(("trunk", "thigh", "shank")),
        KNOWN_NUMBERS,
    ),
    st.builds(CadenceDiffers, TIMES, KNOWN_NUMBERS),
    st.builds(SmoothnessFlag, TIMES, st.sampled_from(Measure), KNOWN_NUMBERS),
    st.builds(
        SmoothnessMean,
        TIMES,
        st.sampled_from(Figure),
        KNOWN_NUMBERS,
        st.integers(1, 99),
        st.booleans(),
    ),
)
STROKES = st.builds(
    StrokeJudged,
    TIMES,
    TIMES,
    st.sampled_from(Verdict),
    st.booleans(),
    st.sampled_from(Phase),
    st.lists(CHANNEL_VALUES, max_size=8).map(tuple),
    st.none() | st.sampled_from(Reason),
)
INTERVALS = st.builds(ValidInterval, TIMES, TIMES, st.integers(0, 999), st.booleans())
READERS = {
    "strokes": rows.stroke_from_row,
    "intervals": rows.interval_from_row,
    "events": rows.event_from_row,
}


def through_sqlite(table: str, row: rows.Row) -> rows.Row:
    """Store a row in a database of its own and read it back."""
    connection = sqlite3.connect(":memory:")
    try:
        schema.migrate(connection)
        connection.execute(schema.INSERTS[table], row)
        (found,) = connection.execute(schema.SELECTS[table]).fetchall()
    finally:
        connection.close()
    assert isinstance(found, tuple)
    return found


def same(first: object, second: object) -> bool:
    """Equality of type and value, in which NaN equals NaN and 1 is not True."""
    if dataclasses.is_dataclass(first) and type(first) is type(second):
        names = [field.name for field in dataclasses.fields(first)]
        return all(same(getattr(first, name), getattr(second, name)) for name in names)
    if isinstance(first, tuple) and isinstance(second, tuple):
        return len(first) == len(second) and all(map(same, first, second))
    if isinstance(first, float) and isinstance(second, float) and math.isnan(first):
        return math.isnan(second)
    return type(first) is type(second) and first == second


@given(SMALL_INPUTS, st.integers(0, 2**40))
@settings(max_examples=60, deadline=None)
def test_small_inputs_come_back(item: Input, seq: int) -> None:
    found_seq, found = rows.input_from_row(through_sqlite("inputs", rows.input_row(seq, item)))
    assert found_seq == seq
    assert same(found, item)


@given(STROKES | INTERVALS | EVENTS)
@settings(max_examples=80, deadline=None)
def test_outputs_come_back(
    output: Output,
) -> None:
    table, row = rows.output_row(output)
    assert same(READERS[table](through_sqlite(table, row)), output)


@pytest.mark.parametrize("seed", range(5))
def test_frames_come_back_to_the_bit(seed: int) -> None:
    random = np.random.default_rng(seed)
    stored = StoredLandmarks(
        random.integers(-32768, 32768, (33, 2)).astype(np.int16),
        random.integers(0, 256, 33).astype(np.uint8),
        random.integers(0, 256, 33).astype(np.uint8),
    )
    stored.points[seed] = landmark_codec.NOT_SEEN
    frame = landmark_codec.decode(1_000_000_007 * seed, stored)
    row = rows.input_row(seed, frame)
    assert len(row[3]) == 198
    seq, found = rows.input_from_row(through_sqlite("inputs", row))
    assert seq == seed
    assert isinstance(found, Frame)
    assert found.t_ns == frame.t_ns
    np.testing.assert_array_equal(found.points_px, frame.points_px)
    np.testing.assert_array_equal(found.visibility, frame.visibility)
    np.testing.assert_array_equal(found.presence, frame.presence)


def test_encode_undoes_decode_for_every_stored_value() -> None:
    every = np.arange(-32768, 32768).astype(np.int16)
    levels = np.resize(np.arange(256), every.shape).astype(np.uint8)
    frame = landmark_codec.decode(0, StoredLandmarks(every, levels, levels[::-1]))
    again = landmark_codec.encode(frame.points_px, frame.visibility, frame.presence)
    np.testing.assert_array_equal(again.points, every)
    np.testing.assert_array_equal(again.visibility, levels)
    np.testing.assert_array_equal(again.presence, levels[::-1])


def test_the_stored_bytes_are_little_endian_in_a_fixed_order() -> None:
    points = np.zeros((33, 2))
    points[0] = 16.0, np.nan
    row = rows.input_row(0, Frame(0, points, np.full(33, 1.0), np.zeros(33)))
    assert row[3][:6] == b"\x00\x01\x00\x80\x00\x00"
    assert row[3][132:] == b"\xff" * 33 + b"\x00" * 33


def test_a_frame_in_which_nobody_was_found_comes_back() -> None:
    frame = landmark_codec.decode(5, landmark_codec.nobody())
    _, found = rows.input_from_row(rows.input_row(0, frame))
    assert isinstance(found, Frame)
    assert np.isnan(found.points_px).all()


@pytest.mark.parametrize("how", HowEnded)
def test_endings_come_back(how: HowEnded) -> None:
    ending = SessionEnding(how, 1, 3, 4, 5, 6, {"late": 7}, "why")
    assert rows.ending_from_row(through_sqlite("ending", rows.ending_row(ending))) == ending


@pytest.mark.parametrize(
    "row",
    [
        (0, 0, "frame", b"\x00" * 197),
        (0, 0, "smell", b"{}"),
        (0, 0, "effort", b'{"power_w":"much","cadence_rpm":null}'),
        (0, 0, "effort", b'{"power_w":1}'),
        (0, 0, "source", b'{"source":"camera","condition":"dreaming"}'),
    ],
)
def test_a_row_that_holds_no_input_is_refused(row: rows.Row) -> None:
    with pytest.raises(ValueError, match=r"198|smell|validation error"):
        rows.input_from_row(row)


def test_an_unknown_event_is_refused() -> None:
    with pytest.raises(ValueError, match="yawn"):
        rows.event_from_row(("yawn", 0, None, None, None, None, None, None, None))
