"""Figures of the study clips: what is detected, how far kit and view move what is measured."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from posewatch.bench.scores import Series, revolutions
from posewatch.core import harmonics
from posewatch.core.records import NS_PER_S, FloatArray

#: Strokes before a change whose mean it is held against.
BEFORE_STROKES = 8
#: Detected at the second stroke in a row beyond half the change.
IN_A_ROW = 2
LOCKED_ORDER = 4
_SIZE = re.compile(r"(torso|hip) .* ([0-9]+) (deg|mm)")
TORSO, SITTING = 0, 3


@dataclass(frozen=True, slots=True)
class Detection:
    """One change and whether it was seen: after how many strokes, None = missed."""

    name: str
    after_strokes: int | None


@dataclass(frozen=True, slots=True)
class Event:
    """A stated change of one column, and when."""

    name: str
    column: int
    size: float
    begin_ns: int
    end_ns: int


def events(t_ns: np.ndarray, names: Sequence[str]) -> list[Event]:
    """Return the changes whose name says what moves and by how much."""
    found = []
    begin = 0
    for i, (before, now) in enumerate(pairwise((*names, "")), start=1):
        if before == now:
            continue
        stated = _SIZE.fullmatch(before)
        if stated:
            column = TORSO if stated[1] == "torso" else SITTING
            end_ns = int(t_ns[min(i, len(t_ns) - 1)])
            found.append(Event(before, column, float(stated[2]), int(t_ns[begin]), end_ns))
        begin = i
    return found


def detect(series: Series, event: Event) -> Detection:
    """Look for one change in the strokes of a run."""
    strokes = [r for r in revolutions(series) if r.reasons[event.column] is None]
    before = [r for r in strokes if r.end_ns <= event.begin_ns][-BEFORE_STROKES:]
    during = [r for r in strokes if event.begin_ns < r.end_ns <= event.end_ns]
    usual = float(np.mean([r.means[event.column] for r in before]))
    in_a_row = 0
    for after, stroke in enumerate(during, start=1):
        far = abs(float(stroke.means[event.column]) - usual) > event.size / 2
        in_a_row = in_a_row + 1 if far else 0
        if in_a_row == IN_A_ROW:
            return Detection(event.name, after)
    return Detection(event.name, None)


def false_detections(series: Series, every: Sequence[Event], column: int, size: float) -> int:
    """Count what would have been detected where nothing changed."""
    strokes = [r for r in revolutions(series) if r.reasons[column] is None]
    still = [
        r
        for r in strokes
        if not any(e.begin_ns - NS_PER_S < r.end_ns < e.end_ns + NS_PER_S for e in every)
    ]
    found, in_a_row = 0, 0
    for i in range(BEFORE_STROKES, len(still)):
        usual = float(np.mean([r.means[column] for r in still[i - BEFORE_STROKES : i]]))
        far = abs(float(still[i].means[column]) - usual) > size / 2
        in_a_row = in_a_row + 1 if far else 0
        found += in_a_row == IN_A_ROW
    return found


def changes(series: Series, every: Sequence[Event], column: int) -> FloatArray:
    """Return each event's mean change of a column, (k,): the middle half against before it."""
    found = []
    for event in every:
        quarter = (event.end_ns - event.begin_ns) // 4
        known = [r for r in revolutions(series) if r.reasons[column] is None]
        before = [r.means[column] for r in known if r.end_ns <= event.begin_ns][-BEFORE_STROKES:]
        during = [
            r.means[column]
            for r in known
            if event.begin_ns + quarter < r.start_ns and r.end_ns < event.end_ns - quarter
        ]
        found.append(float(np.mean(during) - np.mean(before)))
    return np.array(found)


def remainder_sd(errors_deg: FloatArray, angle_rad: FloatArray) -> float:
    """Return what an error leaves that is not locked to the crank angle: SD after harmonics."""
    known = np.isfinite(errors_deg) & np.isfinite(angle_rad)
    errors, angles = errors_deg[known], angle_rad[known]
    curve = harmonics.evaluate(harmonics.fit(angles, errors, LOCKED_ORDER), angles)
    return float(np.std(errors - curve))
