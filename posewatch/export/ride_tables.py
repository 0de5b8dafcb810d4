"""Tables of what was ridden: trials, strokes, valid intervals whole and cut at strokes, events."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator

from posewatch.core.timebase import to_s
from posewatch.export.columns import Column, Row, Table, count, moment, number, text, truth
from posewatch.export.exclusions import placed_strokes, why_discarded
from posewatch.export.limits import limits
from posewatch.export.recorded import Recorded, RiddenTrial, Watched
from posewatch.store.rows import output_row

PLACE = (
    count("visit", "number of the visit in the plan; empty for a watch alone"),
    count("mounting", "number of the mounting, from 1 through the whole plan"),
    text("code", "what the item is called until the reveal"),
    count("trial", "number of the trial in its mounting, from 1"),
    count("attempt", "1, or more where the trial was ridden again"),
    text("hands", "hand position"),
)
DISCARDED = text("discarded", "why the whole trial has no part in a comparison; empty = it has")


def _span(what: str) -> tuple[Column, ...]:
    """Return the columns of a half-open span [start, end)."""
    return (
        number("start_s", f"first moment of the {what}, session seconds of its trial"),
        number("end_s", f"first moment after the {what}, session seconds of its trial"),
        moment("start_utc", "start_s as wall time"),
        moment("end_utc", "end_s as wall time"),
    )


TRIALS = (
    *PLACE,
    DISCARDED,
    text("broken_off", "why the trial ended before its time; empty = as planned"),
    text("log", "folder of the trial's log, inside its visit's; empty for a watch alone"),
    text("target", "rider/bike/hands/version that was held"),
    number("start_s", "first input, session seconds"),
    number("end_s", "last input, session seconds"),
    moment("start_utc", "start_s as wall time"),
    moment("end_utc", "end_s as wall time"),
    count("strokes", "strokes judged"),
    count("counted", "strokes that count"),
    number("counted_s", "time of the strokes that count"),
    count("intervals", "valid intervals that count"),
    text("ended", "how the log ended; empty = it was cut off"),
    text("log_message", "what failed, or how the measuring chain differed from the target's"),
)

STROKES = (
    *PLACE,
    DISCARDED,
    count("stroke", "number of the stroke in its trial, from 1; one row for each of its channels"),
    *_span("stroke, one turn of the crank from top to top"),
    number("duration_s", "end_s - start_s"),
    number("cadence_rpm", "60 / duration_s"),
    text("phase", "where the hold stood after the stroke"),
    text("verdict", "good, out or unknown, over the channels that are required"),
    truth("counted", "the stroke counts: in position, in a run of 8 or more"),
    text("not_counted_because", "empty where counted"),
    count("interval", "number of the run it belongs to; empty = none"),
    text("channel", "what was judged"),
    text("unit", "unit of the numbers that end in _in_unit; thigh = share of the thigh's length"),
    number("deviation_in_unit", "mean over the stroke less the target's; empty = unknown"),
    number("tolerance_in_unit", "outer limit of the deviation, either way"),
    number("spread_in_unit", "RMS about the stroke's own mean"),
    number("along_in_unit", "of the hand place: forward part of the deviation"),
    number("up_in_unit", "of the hand place: upward part of the deviation"),
    truth("required", "out of band, the stroke does not count"),
    text("channel_verdict", "good, out or unknown, of this channel"),
    text("channel_reason", "why it is unknown"),
    truth("restless", "out because of the spread alone"),
)

INTERVALS = (
    *PLACE,
    DISCARDED,
    count("interval", "number of the run in its trial, from 1"),
    *_span("valid interval"),
    number("duration_s", "end_s - start_s"),
    count("strokes", "adjacent strokes in it"),
    truth("counted", "it counts; a run of under 8 strokes does not"),
)

INTERVAL_STROKES = (
    *PLACE,
    DISCARDED,
    count("interval", "number of the run in its trial, as in intervals"),
    count("stroke", "number of the stroke in its trial, as in strokes"),
    *_span("stroke"),
    truth("counted", "its interval counts"),
)

EVENTS = (
    *PLACE,
    DISCARDED,
    text("event", "what the program said"),
    number("start_s", "when, or when it began, session seconds of its trial"),
    number("end_s", "when it ended, of what lasted"),
    moment("start_utc", "start_s as wall time"),
    count("strokes", "how many strokes it was about"),
    text("reason", "why"),
    text("channel", "the channel it was about"),
    text("detail", "the way back in, the unit of a change, or what was measured"),
    number("value", "how much: a change in its unit, a share, rpm or percent"),
    number("over_s", "the time that a change took"),
)


def place_of(trial: RiddenTrial) -> Row:
    """Return the cells of ``PLACE``."""
    run = trial.run
    if run is None:
        return trial.visit, None, trial.code, None, None, trial.hands
    return trial.visit, run.mounting, trial.code, run.trial, run.attempt, run.hands


def target_name(watched: Watched) -> str:
    """Return the name of the target that was held."""
    target = watched.header.target
    return f"{target.rider}/{target.bike}/{target.hands}/v{target.version}"


def ride_tables(recorded: Recorded) -> tuple[Table, ...]:
    """Return the tables of what was ridden; ``marks`` is in ``visit_tables``."""
    rehearsed = frozenset(one.state.visit for one in recorded.visits if one.header.rehearsal)

    def rows(of: Callable[[Watched], Iterable[Row]]) -> list[Row]:
        return [
            (*place_of(trial), why_discarded(trial, trial.visit in rehearsed), *row)
            for trial in recorded.trials
            if trial.watched is not None
            for row in of(trial.watched)
        ]

    return (
        Table(
            "trials",
            "one row for each trial that was begun",
            TRIALS,
            [
                (*place_of(trial), why_discarded(trial, trial.visit in rehearsed), *_trial(trial))
                for trial in recorded.trials
            ],
        ),
        Table("strokes", "one row for each stroke and channel", STROKES, rows(_strokes)),
        Table("intervals", "one row for each valid interval, whole", INTERVALS, rows(_intervals)),
        Table(
            "interval_strokes",
            "valid intervals cut at strokes: one row for each stroke in one",
            INTERVAL_STROKES,
            rows(_interval_strokes),
        ),
        Table("events", "one row for each thing that the program said", EVENTS, rows(_events)),
    )


def _trial(trial: RiddenTrial) -> Row:
    run, watched = trial.run, trial.watched
    broken_off, log = ("", "") if run is None else (run.broken_off, run.folder)
    if watched is None:
        return broken_off, log, *(None,) * (len(TRIALS) - len(PLACE) - 3)
    ending = watched.ending
    confirmed = [one for one in watched.intervals if one.confirmed]
    counted_ns = sum(one.end_ns - one.start_ns for one in confirmed)
    return (
        broken_off,
        log,
        target_name(watched),
        *_times(watched, watched.first_ns, watched.last_ns),
        len(watched.strokes),
        sum(one.n_strokes for one in confirmed),
        to_s(counted_ns),
        len(confirmed),
        "" if ending is None else ending.how,
        "" if ending is None else ending.message,
    )


def _strokes(watched: Watched) -> Iterator[Row]:
    held = limits(watched.header)
    for number_, stroke, interval, why in placed_strokes(watched):
        whole = (
            number_,
            *_times(watched, stroke.start_ns, stroke.end_ns),
            to_s(stroke.end_ns - stroke.start_ns),
            stroke.cadence_rpm,
            stroke.phase,
            stroke.verdict,
            not why,
            why,
            interval,
        )
        for value in stroke.channels:
            yield (
                *whole,
                value.channel,
                held[value.channel].unit,
                _known(value.deviation),
                held[value.channel].tolerance,
                _known(value.spread),
                _known(value.along),
                _known(value.up),
                value.required,
                value.verdict,
                value.reason or "",
                value.restless,
            )


def _intervals(watched: Watched) -> Iterator[Row]:
    for number_, one in enumerate(watched.intervals, 1):
        yield (
            number_,
            *_times(watched, one.start_ns, one.end_ns),
            to_s(one.end_ns - one.start_ns),
            one.n_strokes,
            one.confirmed,
        )


def _interval_strokes(watched: Watched) -> Iterator[Row]:
    for number_, stroke, interval, why in placed_strokes(watched):
        if interval is not None:
            yield interval, number_, *_times(watched, stroke.start_ns, stroke.end_ns), not why


def _events(watched: Watched) -> Iterator[Row]:
    for event in watched.events:
        _, (kind, t_ns, end_ns, n_strokes, reason, channel, detail, value, span_ns) = output_row(
            event
        )
        yield (
            kind,
            to_s(t_ns),
            None if end_ns is None else to_s(end_ns),
            watched.clock.at(t_ns),
            n_strokes,
            reason or "",
            channel or "",
            detail or "",
            value,
            None if span_ns is None else to_s(span_ns),
        )


def _times(watched: Watched, start_ns: int, end_ns: int) -> Row:
    """Return the cells of a span's columns."""
    clock = watched.clock
    return to_s(start_ns), to_s(end_ns), clock.at(start_ns), clock.at(end_ns)


def _known(value: float) -> float | None:
    """Return a number, None where it is not known."""
    return None if math.isnan(value) else value
