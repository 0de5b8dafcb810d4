"""How many of the strokes ridden count, and which band costs most of those that do not.

**Ridden** are strokes judged neither in a pause nor in a sit-in (which lasts from leaving the
saddle or stopping until strokes steady again); those that steady the hold are ridden. **Counted**
are strokes of runs that are long enough, as on every screen. **Yield** is counted / ridden.
**Lost** are ridden strokes that do not count; those of a run that may yet grow are neither.

A stroke is lost **by one band alone** where that channel is out and every other required one is
good. Each band is tried wider as well: every stroke's own deviation is judged again within the
wider limits, with the way back in (inner limit) that belongs to them, exactly as the judge does it.
The hold is not worked out anew: a stroke that would be good counts only once the hold stands, so
what is gained is good strokes, not counted ones. Limits of movement within a stroke stay as they
are, so a restless stroke is not gained by a wider band.

Work and memory a stroke do not grow with the ride.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

from posewatch.core import intervals
from posewatch.core.envelope import NOMINAL_THIGH_MM, Envelope, Target, Unit, inner_limit
from posewatch.core.intervals import Tally
from posewatch.core.outputs import ChannelValue, Output, Phase, StrokeJudged, ValidInterval
from posewatch.core.records import (
    EFFORT_CHANNELS,
    NS_PER_S,
    Channel,
    Command,
    CommandKind,
    Input,
    Verdict,
)
from posewatch.core.watch_plan import WatchPlan

#: Advice comes after so long of riding, while less than this share counts.
ADVISED_AFTER_NS = 120 * NS_PER_S
ADVISED_BELOW = 0.7
#: A band is tried wider in at most so many steps, up to this multiple of its limit.
WIDER_STEPS = 4
WIDEST = 1.5
#: The least step that is worth saying.
STEP = {Unit.DEG: 0.5, Unit.MM: 1.0, Unit.THIGH: 1.0 / NOMINAL_THIGH_MM}


@dataclass(frozen=True, slots=True)
class WiderBand:
    """One channel with a wider limit; out: it would have been out on the last stroke."""

    tol: float
    inner: float
    out: bool = False
    n_gained: int = 0


@dataclass(frozen=True, slots=True)
class Band:
    """What one required channel has cost.

    unit: of tol and deviations, None for effort (W, rpm). shape_limit: of movement within a stroke,
    inf = none; wider: the band tried wider, in rising order. n_out: ridden strokes in which it was
    out; n_alone: of them those lost by it alone, n_restless of these by movement within the stroke;
    alone_sum: sum of the deviations of those lost by it alone.
    """

    channel: Channel
    unit: Unit | None
    tol: float
    shape_limit: float
    wider: tuple[WiderBand, ...]
    n_out: int = 0
    n_alone: int = 0
    n_restless: int = 0
    alone_sum: float = 0.0


@dataclass(frozen=True, slots=True)
class YieldState:
    """What the ride has come to.

    pause: (begun, ended) of the last pause, ns; ended inf = it goes on.
    """

    bands: tuple[Band, ...]
    tally: Tally = Tally()
    n_ridden: int = 0
    ridden_ns: int = 0
    n_unknown: int = 0
    pause: tuple[float, float] = field(default=(math.inf, math.inf))

    @property
    def n_pending(self) -> int:
        """Strokes of a run under way that is not long enough yet."""
        run = self.tally.run
        return 0 if run is None or run.confirmed else run.n_strokes

    @property
    def n_lost(self) -> int:
        """Ridden strokes that do not count."""
        return self.n_ridden - self.tally.n_strokes - self.n_pending

    @property
    def share(self) -> float:
        """The yield, 0 to 1; NaN before the first stroke ridden."""
        return self.tally.n_strokes / self.n_ridden if self.n_ridden else math.nan


@dataclass(frozen=True, slots=True)
class Advice:
    """Which required channel costs most strokes.

    channel: None = strokes that were not known cost more than any band. off: mean deviation of the
    strokes lost by it alone, in ``unit``, NaN = there are none. wider: a limit at which n_gained
    more strokes would be good; None = no wider band would help. n_unknown: lost strokes unknown.
    """

    n_lost: int
    n_unknown: int
    channel: Channel | None
    unit: Unit | None
    tol: float
    n_out: int
    n_alone: int
    n_restless: int
    off: float
    wider: float | None
    n_gained: int


def start(target: Target, plan: WatchPlan) -> YieldState:
    """Return the state before the first stroke."""
    bands = [_body_band(e) for e in target.envelopes if e.required]
    for channel in EFFORT_CHANNELS:
        if plan.effort_centre(channel) is not None:
            bands.append(Band(channel, None, plan.effort_tolerance(channel), math.inf, ()))
    return YieldState(tuple(bands))


def _body_band(envelope: Envelope) -> Band:
    step = STEP[envelope.unit]
    n_steps = max(1, int((WIDEST - 1.0) * envelope.tol / step + 1e-9))
    coarse = step * math.ceil(n_steps / WIDER_STEPS)
    limits = [envelope.tol + coarse * (k + 1) for k in range(max(1, int(n_steps * step / coarse)))]
    wider = tuple(WiderBand(tol, inner_limit(tol, envelope.stroke_sd)) for tol in limits)
    shape_limit = envelope.shape_limit if envelope.shape_required else math.inf
    return Band(envelope.channel, envelope.unit, envelope.tol, shape_limit, wider)


def step(state: YieldState, item: Input, outputs: tuple[Output, ...]) -> YieldState:
    """Take in what came out of one input."""
    if isinstance(item, Command):
        if item.kind is CommandKind.PAUSE:
            state = replace(state, pause=(item.t_ns, math.inf))
        elif item.kind is CommandKind.RESUME:
            state = replace(state, pause=(state.pause[0], item.t_ns))
    for output in outputs:
        if isinstance(output, StrokeJudged):
            state = _take_stroke(state, output)
        elif isinstance(output, ValidInterval):
            # It is told after the stroke that begins the next run.
            run = state.tally.run
            if run is not None and run.end_ns == output.end_ns:
                state = replace(state, tally=intervals.end_run(state.tally)[0])
    return state


def _take_stroke(state: YieldState, stroke: StrokeJudged) -> YieldState:
    begun, ended = state.pause
    ridden = stroke.phase is not Phase.SIT_IN and not begun <= stroke.start_ns < ended
    values = {v.channel: v for v in stroke.channels if v.required}
    bad = [v.channel for v in values.values() if v.verdict is not Verdict.GOOD]
    bands = tuple(
        _take_value(band, values[band.channel], bad, ridden) if band.channel in values else band
        for band in state.bands
    )
    tally = state.tally
    if stroke.counted:
        tally, _ = intervals.add_stroke(tally, stroke.start_ns, stroke.end_ns)
    if not ridden:
        return replace(state, bands=bands, tally=tally)
    return replace(
        state,
        bands=bands,
        tally=tally,
        n_ridden=state.n_ridden + 1,
        ridden_ns=state.ridden_ns + stroke.end_ns - stroke.start_ns,
        n_unknown=state.n_unknown + (stroke.verdict is Verdict.UNKNOWN),
    )


def _take_value(band: Band, value: ChannelValue, bad: list[Channel], ridden: bool) -> Band:
    """Take in a required channel's value of one stroke, in which the channels ``bad`` were."""
    is_out = value.verdict is Verdict.OUT
    alone = ridden and is_out and bad == [band.channel]
    wider = tuple(_try_wider(one, value, band.shape_limit, alone) for one in band.wider)
    if not (ridden and is_out):
        return replace(band, wider=wider)
    return replace(
        band,
        wider=wider,
        n_out=band.n_out + 1,
        n_alone=band.n_alone + alone,
        n_restless=band.n_restless + (alone and value.restless),
        alone_sum=band.alone_sum + (value.deviation if alone else 0.0),
    )


def _try_wider(one: WiderBand, value: ChannelValue, shape_limit: float, alone: bool) -> WiderBand:
    """Judge a value again within wider limits (``channels.judge_stroke``)."""
    if value.verdict is Verdict.UNKNOWN:
        return one
    limit = one.inner if one.out else one.tol
    is_out = abs(value.deviation) > limit or value.spread > shape_limit
    return replace(one, out=is_out, n_gained=one.n_gained + (alone and not is_out))


def advise(state: YieldState) -> Advice | None:
    """Return what costs most, None while too little was ridden or enough of it counts."""
    if state.ridden_ns < ADVISED_AFTER_NS or state.share >= ADVISED_BELOW:
        return None
    worst = max(state.bands, key=lambda b: (b.n_alone, b.n_out), default=None)
    if worst is None or state.n_unknown > worst.n_out:
        return Advice(
            state.n_lost, state.n_unknown, None, None, math.nan, 0, 0, 0, math.nan, None, 0
        )
    wider = _least_that_helps(worst)
    return Advice(
        state.n_lost,
        state.n_unknown,
        worst.channel,
        worst.unit,
        worst.tol,
        worst.n_out,
        worst.n_alone,
        worst.n_restless,
        worst.alone_sum / worst.n_alone if worst.n_alone else math.nan,
        None if wider is None else wider.tol,
        0 if wider is None else wider.n_gained,
    )


def _least_that_helps(band: Band) -> WiderBand | None:
    """Return the least wider band that gains half of what it lost, else the one that gains most."""
    half = [one for one in band.wider if one.n_gained and 2 * one.n_gained >= band.n_alone]
    if half:
        return half[0]
    most = max(band.wider, key=lambda one: one.n_gained, default=None)
    return most if most is not None and most.n_gained else None
