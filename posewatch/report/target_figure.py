"""A target as a picture: the rider's own curves over the crank circle, and each channel's ruler.

Above, knee, hip and torso over one turn of the crank, in the band that the outer limit makes of
each curve. A ruler for every channel shows deviations from the rider's own centre: the band, the
limit for coming back, the scatter of strokes, and the smallest offset that is told.
"""

from __future__ import annotations

import io
import os
import uuid
from pathlib import Path

import matplotlib

matplotlib.use("Agg")
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator

from posewatch.core import harmonics
from posewatch.core.envelope import NOMINAL_THIGH_MM, Envelope, LengthUnit, Target, Unit
from posewatch.core.records import Channel
from posewatch.core.resolution import MINUTES, STROKES, Resolution, resolution, sits_caution
from posewatch.errors import BadInput

SUFFIXES = (".png", ".svg", ".pdf")
#: From the Okabe-Ito set.
BLUE, SKY, VERMILLION, GREEN = "#0072B2", "#56B4E9", "#D55E00", "#009E73"
INK, GREY = "#222222", "#777777"
CURVES = (Channel.KNEE, Channel.HIP, Channel.TORSO)
PLACES = (Channel.SITTING_PLACE, Channel.PELVIS_HEIGHT, Channel.HAND_PLACE)
MEANINGS = {
    Channel.KNEE: "flexion, 0 = straight",
    Channel.HIP: "torso to thigh",
    Channel.TORSO: "above horizontal",
    Channel.SITTING_PLACE: "back  \u2190  \u2192  forward",
    Channel.PELVIS_HEIGHT: "down  \u2190  \u2192  up",
    Channel.HAND_PLACE: "distance",
}
#: A ruler spans so much more than what is on it; a curve's axis so much more than its band.
RULER_SPAN, CURVE_MARGIN = 1.15, 1.38
#: Share of the figure's height.
RULER_HEIGHT = 0.052
#: Scatter is drawn as so many SDs to either side.
SCATTER_SD = 2.0
TURN_DEG = np.linspace(0.0, 360.0, 361)
CRANK_TICKS = {
    0: "0\u00b0 top",
    90: "90\u00b0 forward",
    180: "180\u00b0 bottom",
    270: "270\u00b0 back",
}
UNIT_WORDS = {Unit.DEG: "\u00b0", Unit.MM: " mm", Unit.THIGH: " mm*"}


def write_target_figure(target: Target, path: Path) -> None:
    """Draw a target into a new .png, .svg or .pdf file.

    Raises:
        BadInput: another kind of file, one that exists, or that cannot be written.
    """
    if path.suffix.lower() not in SUFFIXES:
        raise BadInput(
            f"{path} is no kind of picture that can be drawn.", f"End it in {', '.join(SUFFIXES)}."
        )
    if path.exists():
        raise BadInput(
            f"{path} exists already and was left as it is.", "Give another name, or remove it."
        )
    drawn = io.BytesIO()
    draw_target(target).savefig(drawn, format=path.suffix[1:].lower(), dpi=130)
    part = path.with_name(f".{path.name}.{uuid.uuid4().hex}.part")
    try:
        part.write_bytes(drawn.getvalue())
        os.replace(part, path)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise BadInput(
            f"{path} cannot be written ({error.strerror or error}).",
            "Name a file in an existing folder that can be written to.",
        ) from error


def draw_target(target: Target) -> Figure:
    """Return a target's figure: three curves with their rulers, then the places' rulers."""
    figure = Figure(figsize=(11.7, 8.8))
    for channel, bottom in zip(CURVES, (0.69, 0.505, 0.32), strict=True):
        held, told = target.envelope(channel), resolution(target, channel)
        curve = figure.add_axes((0.095, bottom, 0.61, 0.165))
        _draw_curve(curve, held, told)
        _name_crank(curve, is_last=channel is CURVES[-1])
        _draw_ruler(figure.add_axes((0.76, bottom + 0.075, 0.21, RULER_HEIGHT)), held, told)
    for channel, left in zip(PLACES, (0.035, 0.375, 0.715), strict=True):
        axis = figure.add_axes((left, 0.175, 0.255, RULER_HEIGHT))
        _draw_ruler(axis, target.envelope(channel), resolution(target, channel))
    _write_head(figure, target)
    _write_key(figure, target)
    return figure


def _draw_curve(axis: Axes, held: Envelope, told: Resolution) -> None:
    curve = harmonics.evaluate(np.array(held.centre[0]), np.radians(TURN_DEG))
    scatter = SCATTER_SD * told.noise
    axis.fill_between(TURN_DEG, curve - held.tol, curve + held.tol, color=SKY, alpha=0.3, lw=0)
    axis.fill_between(TURN_DEG, curve - scatter, curve + scatter, color=BLUE, alpha=0.35, lw=0)
    axis.plot(TURN_DEG, curve, color=BLUE, lw=1.3)
    middle = (curve.max() + curve.min()) / 2
    reach = CURVE_MARGIN * ((curve.max() - curve.min()) / 2 + held.tol)
    axis.set_ylim(middle - reach, middle + reach)
    axis.yaxis.set_major_locator(MaxNLocator(nbins=5, integer=True))
    for place, up in ((int(curve.argmax()), 1), (int(curve.argmin()), -1)):
        axis.plot(TURN_DEG[place], curve[place], "o", ms=4, color=BLUE)
        axis.annotate(
            f"{curve[place]:.1f}\u00b0 at {TURN_DEG[place] % 360:.0f}\u00b0",
            (TURN_DEG[place], curve[place] + up * held.tol),
            xytext=(0, 3 * up),
            textcoords="offset points",
            ha="left" if place < 30 else "right" if place > 330 else "center",
            va="bottom" if up > 0 else "top",
            fontsize=8,
            color=INK,
        )
    axis.set_ylabel(
        f"$\\bf{{{held.channel}}}$\n{MEANINGS[held.channel]}\ndegrees", fontsize=9, color=INK
    )


def _name_crank(axis: Axes, is_last: bool) -> None:
    axis.set_xlim(0, 360)
    axis.set_xticks([*CRANK_TICKS, 360], [*CRANK_TICKS.values(), "360\u00b0"])
    axis.tick_params(labelsize=8, labelbottom=is_last, colors=INK)
    axis.grid(axis="x", color=GREY, alpha=0.25, lw=0.6)
    axis.spines[["top", "right"]].set_visible(False)
    if is_last:
        axis.set_xlabel("angle of the camera-side crank", fontsize=9, color=INK)


def _draw_ruler(axis: Axes, held: Envelope, told: Resolution) -> None:
    """Draw deviations from the centre: zero is the rider's own captured position."""
    scale, unit = held.unit.nominal, UNIT_WORDS[held.unit]
    tol, inner = scale * held.tol, scale * held.inner
    one_sided = held.channel is Channel.HAND_PLACE
    sides = (1.0,) if one_sided else (-1.0, 1.0)
    axis.axvspan(0.0 if one_sided else -tol, tol, color=SKY, alpha=0.3, lw=0)
    for side in sides:
        axis.axvline(side * tol, color=BLUE, lw=1.6)
        axis.axvline(side * inner, color=BLUE, lw=1.0, ls=":")
        axis.plot(side * scale * told.smallest, 0.2, "D", ms=5, color=GREEN, clip_on=False)
    axis.axvline(0.0, color=INK, lw=0.8)
    bars = [(0.78, told.stroke_sd, BLUE)]
    if told.fresh_sd is not None:
        bars.append((0.5, told.fresh_sd, VERMILLION))
    for height, sd, colour in bars:
        reach = SCATTER_SD * scale * sd
        axis.plot([0.0 if one_sided else -reach, reach], [height] * 2, color=colour, lw=3.5,
                  solid_capstyle="butt")  # fmt: skip
    span = RULER_SPAN * max(tol, scale * told.smallest, SCATTER_SD * scale * told.noise)
    axis.set_xlim(-0.04 * span if one_sided else -span, span)
    axis.set_ylim(0, 1)
    axis.set_yticks([])
    axis.set_xticks(
        [0.0, *(side * tol for side in sides)],
        ["0", *(f"{_signed(side * tol)}{unit}" for side in sides)],
    )
    axis.tick_params(labelsize=8, length=0, colors=INK)
    axis.spines[:].set_visible(False)
    held_words = "required" if held.required else "advisory"
    axis.set_title(
        f"$\\bf{{{str(held.channel).replace(' ', '~')}}}$, {held_words}", fontsize=9, loc="left",
        color=INK, pad=4,
    )  # fmt: skip
    if held.channel in PLACES:
        axis.set_title(MEANINGS[held.channel], fontsize=8, loc="right", color=GREY, pad=4)
    axis.annotate(
        _ruler_words(held, told),
        (0.0, 0.0),
        xycoords="axes fraction",
        xytext=(0, -18),
        textcoords="offset points",
        fontsize=8,
        color=INK,
        va="top",
        linespacing=1.4,
    )


def _signed(value: float) -> str:
    return f"{value:+.1f}".replace("-", "\u2212")


def _ruler_words(held: Envelope, told: Resolution) -> str:
    scale, unit = held.unit.nominal, UNIT_WORDS[held.unit]
    fresh = "not known" if told.fresh_sd is None else f"{scale * told.fresh_sd:.2f}{unit}"
    cues = "under 0.1" if told.false_cues < 0.1 else f"{told.false_cues:.1f}"
    return (
        f"SD {scale * told.stroke_sd:.2f}{unit}, fresh sit {fresh}\n"
        f"tells {scale * told.smallest:.2f}{unit}; {cues} false cues"
        + ("\ntighter than the noise" if told.too_tight else "")
    )


def _write_head(figure: Figure, target: Target) -> None:
    name = f"{target.rider} / {target.bike} / {target.hands}"
    figure.text(0.035, 0.965, f"{name}   v{target.version}", fontsize=15, fontweight="bold",
                color=INK, va="center", parse_math=False)  # fmt: skip
    sits = "one sit" if len(target.sits) == 1 else f"{len(target.sits)} sits"
    camera = (
        f"calibrated, {target.chain.view}" if target.length_unit is LengthUnit.MM
        else "not calibrated"
    )  # fmt: skip
    parts = [
        target.created[:16].replace("T", " "),
        f"by {target.author}" if target.author else "",
        f"{target.side} side, {target.n_strokes} strokes in {sits}, {target.cadence_rpm:.0f} rpm",
        f"camera {camera}",
        f"chain {target.chain.fingerprint()}",
    ]
    figure.text(0.035, 0.935, "   \u00b7   ".join(filter(None, parts)), fontsize=9, color=GREY,
                va="center", parse_math=False)  # fmt: skip
    words = "   \u00b7   ".join(filter(None, (target.note, sits_caution(target))))
    figure.text(0.035, 0.908, words, fontsize=9, color=INK, va="center", parse_math=False)


def _write_key(figure: Figure, target: Target) -> None:
    lines = [
        "Curves: this rider's own, as captured. What is judged is the mean over a whole turn: the "
        "pale band is how far a curve may shift as a whole, the dark one its scatter.",
        "Rulers: 0 = the captured position; pale = in band; line = outer limit; dotted = limit "
        f"for coming back; bars = {SCATTER_SD:g} SD of a stroke within a sit (blue) and with a "
        "fresh sit (below it);",
        f"diamond = smallest offset told over {STROKES} strokes (95 % confidence, 80 % power); "
        f"false cues in {MINUTES:g} min of riding exactly in position.",
    ]
    if target.length_unit is not LengthUnit.MM:
        lines[-1] += f"   mm*: nominal, for a thigh of {NOMINAL_THIGH_MM:.0f} mm."
    figure.text(0.035, 0.072, "\n".join(lines), fontsize=8, color=GREY, va="top", linespacing=1.5)
