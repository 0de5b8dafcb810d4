"""One watch as a picture: each channel's stroke values in its band, and the valid intervals.

Shape carries the meaning first: a disc counts, a ring is in band but does not count, a triangle
points where the value went out, a cross is unknown. Colours are from the Okabe-Ito set.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import matplotlib

matplotlib.use("Agg")
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from posewatch.core.envelope import NOMINAL_THIGH_MM, Envelope, Target, Unit
from posewatch.core.outputs import (
    ChannelValue,
    HoldLost,
    Output,
    StrokeJudged,
    ValidInterval,
)
from posewatch.core.records import Channel, Verdict
from posewatch.core.timebase import to_s

BLUE, SKY, ORANGE, VERMILLION, GREY = "#0072B2", "#56B4E9", "#E69F00", "#D55E00", "#777777"
COUNTED, IN_BAND, ABOVE, BELOW, UNKNOWN = "counted", "in band", "above", "below", "unknown"
MARKS: dict[str, dict[str, Any]] = {
    COUNTED: {"marker": "o", "ms": 4, "mec": BLUE, "mfc": BLUE},
    IN_BAND: {"marker": "o", "ms": 4, "mec": BLUE, "mfc": "white"},
    ABOVE: {"marker": "^", "ms": 6, "color": VERMILLION, "clip_on": False},
    BELOW: {"marker": "v", "ms": 6, "color": VERMILLION, "clip_on": False},
    UNKNOWN: {"marker": "x", "ms": 5, "color": GREY},
}
#: How much of a channel is drawn, in outer limits: what goes further sits at the edge.
EDGE = 2.2
KEY = (
    "one mark a stroke: \u25cf counts   \u25cb does not count   \u25b2\u25bc out of band   "
    "\u00d7 unknown   shaded: band (outer limit)   dotted: limit for coming back\n"
    "white box: a run too short to count"
)
UNCALIBRATED_KEY = f"   mm*: not calibrated, for a thigh of {NOMINAL_THIGH_MM:.0f} mm"


def draw_watch(
    target: Target, outputs: Sequence[Output], watched_s: float, title: str, path: Path
) -> None:
    """Draw one watch into a PNG (or what the ending of the path says).

    Raises:
        OSError: the file cannot be written.
    """
    strokes = [o for o in outputs if isinstance(o, StrokeJudged)]
    figure = Figure(figsize=(11, 8.5), layout="constrained")
    axes = figure.subplots(
        len(target.envelopes) + 1, 1, sharex=True, height_ratios=[0.55] + [1] * 6
    )
    _draw_intervals(axes[0], outputs)
    for axis, envelope in zip(axes[1:], target.envelopes, strict=True):
        _draw_channel(axis, envelope, strokes)
    axes[-1].set_xlim(0, watched_s)
    key = KEY + UNCALIBRATED_KEY * (target.place_unit is Unit.THIGH)
    axes[-1].set_xlabel(f"time, s\n\n{key}", fontsize=9)
    figure.suptitle(title, x=0.01, ha="left", fontsize=13, fontweight="bold")
    figure.savefig(path, dpi=100)


def _draw_intervals(axis: Axes, outputs: Sequence[Output]) -> None:
    axis.set_ylim(0, 1)
    axis.set_yticks([])
    axis.spines[["top", "right", "left"]].set_visible(False)
    axis.set_ylabel("counted", rotation=0, ha="right", va="center")
    for output in outputs:
        if isinstance(output, ValidInterval):
            start, end = to_s(output.start_ns), to_s(output.end_ns)
            face = BLUE if output.confirmed else "white"
            axis.axvspan(start, end, 0.15, 0.6, facecolor=face, edgecolor=BLUE)
            colour = "white" if output.confirmed else BLUE
            axis.text(
                (start + end) / 2,
                0.375,
                str(output.n_strokes),
                color=colour,
                ha="center",
                va="center",
            )
        elif isinstance(output, HoldLost):
            axis.axvline(to_s(output.t_ns), 0, 0.75, color=VERMILLION, lw=1.5)
            cause = output.channel or output.reason
            axis.text(
                to_s(output.t_ns), 0.8, f"lost: {cause}", color=VERMILLION, ha="center", fontsize=8
            )


def _draw_channel(axis: Axes, envelope: Envelope, strokes: Sequence[StrokeJudged]) -> None:
    scale = envelope.unit.nominal
    tol, inner = scale * envelope.tol, scale * envelope.inner
    low = 0.0 if envelope.channel is Channel.HAND_PLACE else -tol
    axis.axhspan(low, tol, color=SKY, alpha=0.22, lw=0)
    for limit in (-inner, inner):
        if limit >= low:
            axis.axhline(limit, color=BLUE, lw=0.6, ls=":")
    axis.axhline(0, color=GREY, lw=0.6)
    edge = EDGE * tol
    places: dict[str, list[tuple[float, float]]] = {mark: [] for mark in MARKS}
    for stroke in strokes:
        value = next(v for v in stroke.channels if v.channel is envelope.channel)
        mark, height = _place(value, stroke.counted, scale, edge)
        places[mark].append((to_s(stroke.start_ns + stroke.end_ns) / 2, height))
    # All strokes of one mark at a time: drawing each by itself takes several times as long.
    for mark, at in places.items():
        if at:
            axis.plot(*zip(*at, strict=True), linestyle="none", label=mark, **MARKS[mark])
    axis.set_ylim(-edge if low else -0.3 * tol, edge)
    axis.spines[["top", "right"]].set_visible(False)
    unit = "mm*" if envelope.unit is Unit.THIGH else envelope.unit
    held = "" if envelope.required else "\n(advisory)"
    axis.set_ylabel(f"{envelope.channel}\n{unit}{held}", rotation=0, ha="right", va="center")


def _place(value: ChannelValue, counted: bool, scale: float, edge: float) -> tuple[str, float]:
    """Return a stroke's mark and its height."""
    if math.isnan(value.deviation):
        return UNKNOWN, 0.0
    height = max(-edge, min(edge, scale * value.deviation))
    if value.verdict is Verdict.OUT:
        return ABOVE if height > 0 else BELOW, height
    return COUNTED if counted else IN_BAND, height
