"""A hold on measured values beside the same hold on exact ones."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from posewatch.core.cues import ON_AFTER_NS
from posewatch.core.outputs import CueChanged, HoldGained, HoldLost, Output, StrokeJudged
from posewatch.core.records import NS_PER_S, Verdict

MAX_COUNT_OFF = 2
#: A boundary may be off by this or by one stroke, whichever is longer.
MAX_BOUNDARY_S = 1.0


@dataclass(frozen=True, slots=True)
class HoldScore:
    """How two holds on one clip compare.

    n_counted, n_counted_exact: strokes counted in position, in runs of any length.
    n_strokes_exact: all true strokes. n_events: the start, and what happened in the clip.
    n_false: strokes counted although the true stroke, and both its neighbours, were out.
    worst_boundary_s: largest distance of a boundary from the exact one; infinite where one has no
    counterpart. cue_delays_strokes: from the true value passing its limit to the cue.
    """

    n_counted: int
    n_counted_exact: int
    n_strokes_exact: int
    n_events: int
    n_false: int
    worst_boundary_s: float
    longest_stroke_s: float
    n_cues: int
    cue_delays_strokes: tuple[float, ...]

    @property
    def is_within_limits(self) -> bool:
        """Whether counts, boundaries and false counts are all as they must be."""
        off = abs(self.n_counted - self.n_counted_exact)
        return (
            off <= MAX_COUNT_OFF * self.n_events
            and self.worst_boundary_s <= max(MAX_BOUNDARY_S, self.longest_stroke_s)
            and self.n_false == 0
        )


def score_hold(
    measured: Sequence[Output], exact: Sequence[Output], events: Sequence[str]
) -> HoldScore:
    """Compare what was said of measured values with what was said of exact ones.

    events: what was on in each picture, empty = nothing.
    """
    strokes, true_strokes = _strokes(measured), _strokes(exact)
    counted = [s for s in strokes if s.counted]
    durations = [s.end_ns - s.start_ns for s in true_strokes]
    typical_ns = sorted(durations)[len(durations) // 2] if durations else NS_PER_S
    pairs = [(_times(measured, kind), _times(exact, kind)) for kind in (HoldGained, HoldLost)]
    return HoldScore(
        len(counted),
        sum(s.counted for s in true_strokes),
        len(true_strokes),
        1 + sum(now not in ("", before) for before, now in pairwise(("", *events))),
        sum(_is_false(s, true_strokes) for s in counted),
        max((_worst_distance_s(mine, true) for mine, true in pairs), default=0.0),
        typical_ns / NS_PER_S,
        len(_cues(measured)),
        tuple(_cue_delays(measured, exact, typical_ns)),
    )


def _strokes(outputs: Sequence[Output]) -> list[StrokeJudged]:
    return [o for o in outputs if isinstance(o, StrokeJudged)]


def _times(outputs: Sequence[Output], kind: type[HoldGained] | type[HoldLost]) -> list[int]:
    return [o.t_ns for o in outputs if isinstance(o, kind)]


def _cues(outputs: Sequence[Output]) -> list[CueChanged]:
    return [o for o in outputs if isinstance(o, CueChanged) and o.channel is not None]


def _is_false(stroke: StrokeJudged, true_strokes: Sequence[StrokeJudged]) -> bool:
    """Tell whether a stroke counted while the rider was truly out, its edges apart."""
    middle = (stroke.start_ns + stroke.end_ns) // 2
    at = min(
        range(len(true_strokes)),
        key=lambda i: abs((true_strokes[i].start_ns + true_strokes[i].end_ns) // 2 - middle),
        default=None,
    )
    if at is None:
        return True
    around = true_strokes[max(0, at - 1) : at + 2]
    return all(s.verdict is Verdict.OUT for s in around)


def _worst_distance_s(mine: Sequence[int], true: Sequence[int]) -> float:
    if len(mine) != len(true):
        return float("inf")
    return max((abs(a - b) / NS_PER_S for a, b in zip(mine, true, strict=True)), default=0.0)


def _cue_delays(measured: Sequence[Output], exact: Sequence[Output], stroke_ns: int) -> list[float]:
    """Return, per exact cue, strokes from the true value passing to the measured cue."""
    delays = []
    for cue in _cues(exact):
        passed_ns = cue.t_ns - ON_AFTER_NS
        same = [c.t_ns for c in _cues(measured) if c.channel is cue.channel]
        nearest = min(same, key=lambda t: abs(t - passed_ns), default=None)
        delays.append(float("inf") if nearest is None else (nearest - passed_ns) / stroke_ns)
    return delays
