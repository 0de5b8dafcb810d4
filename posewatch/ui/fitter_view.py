"""What the fitter's window shows of a target, and of how two differ. Without Qt.

All numbers here are as people read them: degrees, or mm (nominal before a camera is calibrated).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from posewatch.core import harmonics
from posewatch.core.envelope import (
    ANGLE_CHANNELS,
    NOMINAL_THIGH_MM,
    SITS_WANTED,
    Target,
    Unit,
)
from posewatch.core.records import Channel, FloatArray
from posewatch.core.resolution import MINUTES, STROKES, resolution, sits_caution
from posewatch.core.target_difference import CurveDifference, difference

#: Limits are set in steps of these.
DEG_STEP, MM_STEP = 0.1, 0.5
WIDEST_DEG, WIDEST_MM = 45.0, 150.0
#: The curves are drawn at these crank angles.
CRANK_DEG = np.linspace(0.0, 360.0, 121)
#: The deviations' axis reaches to the first of these that is at least so many limits away.
REACHES = (0.5, 1.0, 2.0, 3.0, 4.0, 6.0, 8.0, 10.0, 15.0, 20.0, 30.0, 40.0, 60.0, 100.0, 300.0)
REACH_LIMITS = 2.0
DOT = "\N{MIDDLE DOT}"
DEGREE = "\N{DEGREE SIGN}"
PLUS_MINUS, MINUS = "\N{PLUS-MINUS SIGN}", "\N{MINUS SIGN}"

#: What an angle is, and which way a place counts; a target has these channels and no others.
MEANINGS = {
    Channel.TORSO: "above horizontal",
    Channel.KNEE: "flexion, 0 = straight",
    Channel.HIP: "torso to thigh",
    Channel.SITTING_PLACE: "forward of the captured place",
    Channel.PELVIS_HEIGHT: "above the captured place",
    Channel.HAND_PLACE: "forward (line), up (dashes)",
}


@dataclass(frozen=True, slots=True, eq=False)
class ChannelShown:
    """One channel as the window shows it, in degrees or mm.

    unit: as it is written behind a number. step: of limits. curves: (parts, 121) centre curves over
    CRANK_DEG; places from their mean. noise: SD of one stroke value, with the fresh sit where it
    is known. smallest: the least offset told, and over how many strokes in words. reach: the
    deviations' axis. too_tight: why the limit is tighter than the noise, empty = it is not.
    """

    channel: Channel
    unit: str
    step: float
    tol: float
    inner: float
    required: bool
    curves: FloatArray
    stroke_sd: float
    noise: float
    smallest: float
    false_cues: float
    fresh_known: bool
    too_tight: str

    @property
    def reach(self) -> float:
        """How far the deviations' axis reaches to either side."""
        least = REACH_LIMITS * max(self.tol, self.noise)
        return next((reach for reach in REACHES if reach >= least), REACHES[-1])


def channel_shown(target: Target, channel: Channel) -> ChannelShown:
    """Return what the window shows of one channel."""
    held, told = target.envelope(channel), resolution(target, channel)
    scale = held.unit.nominal
    curves = scale * np.array(
        [harmonics.evaluate(np.array(c), np.radians(CRANK_DEG)) for c in held.centre]
    )
    if channel not in ANGLE_CHANNELS:
        curves -= scale * np.array([[c[0]] for c in held.centre])
    return ChannelShown(
        channel,
        unit_text(held.unit),
        step_of(held.unit),
        scale * held.tol,
        scale * held.inner,
        held.required,
        curves,
        scale * told.stroke_sd,
        scale * told.noise,
        scale * told.smallest,
        told.false_cues,
        told.fresh_sd is not None,
        told.too_tight,
    )


def unit_text(unit: Unit) -> str:
    """Return a unit as it is written behind a number; a star says that mm are nominal."""
    return {Unit.DEG: DEGREE, Unit.MM: " mm", Unit.THIGH: " mm*"}[unit]


def step_of(unit: Unit) -> float:
    """Return the step in which a limit is set."""
    return DEG_STEP if unit is Unit.DEG else MM_STEP


def widest_of(unit: Unit) -> float:
    """Return the widest limit that can be set."""
    return WIDEST_DEG if unit is Unit.DEG else WIDEST_MM


def snapped(unit: Unit, size: float) -> float:
    """Return the nearest limit that can be set to a size in degrees or mm."""
    step = step_of(unit)
    steps = min(max(1, round(size / step)), round(widest_of(unit) / step))
    return round(steps * step, 1)


def noise_text(shown: ChannelShown) -> str:
    """Say a channel's noise, the least offset told, and how many false cues are expected."""
    cues = "under 0.1" if shown.false_cues < 0.1 else f"{shown.false_cues:.1f}"
    return (
        f"noise {shown.noise:.2f}{shown.unit} {DOT} tells {shown.smallest:.2f}{shown.unit} {DOT} "
        f"{cues} false cues"
    )


#: What those words mean, once for all rows.
NOISE_KEY = (
    f"noise: SD of one stroke value; tells: least offset told over {STROKES} strokes; false cues: "
    f"expected in {MINUTES:g} min of riding exactly in position"
)


def signed(value: float, digits: int = 1) -> str:
    """Return a number with its sign as it is typeset; zero has none."""
    size = round(value, digits)
    return f"{size:+.{digits}f}".replace("-", MINUS) if size else f"{0.0:.{digits}f}"


def name_of(target: Target) -> str:
    """Return a target's name; a version that is not kept yet has none."""
    version = f"  v{target.version}" if target.version else ""
    return f"{target.rider} / {target.bike} / {target.hands}{version}"


def path_name(target: Target) -> str:
    """Return the name by which a kept target is found again."""
    return f"{target.rider}/{target.bike}/{target.hands}/v{target.version}"


def origin_of(target: Target) -> str:
    """Say what a target was made of."""
    sits = " + ".join(str(n) for n in target.sits)
    camera = "uncalibrated camera" if target.chain.view is None else "calibrated camera"
    parts = (
        f"{target.side} side",
        f"{sits} strokes in {len(target.sits)} {'sit' if len(target.sits) == 1 else 'sits'}",
        f"{target.n_dropped} dropped as unlike the others",
        f"{target.cadence_rpm:.0f} rpm",
        camera,
        f"kept {target.created[:16].replace('T', ' ')}" if target.created else "not kept yet",
        f"by {target.author}" if target.author else "",
    )
    return f" {DOT} ".join(part for part in parts if part)


def cautions_of(target: Target) -> tuple[str, ...]:
    """Say what a reader of this target must know, a sentence each; empty = nothing."""
    found = []
    if len(target.sits) < SITS_WANTED:
        found.append(sits_caution(target))
    if target.place_unit is Unit.THIGH:
        found.append(
            f"mm*: nominal, for a thigh of {NOMINAL_THIGH_MM:.0f} mm; the camera is not calibrated "
            "and must stay where it was"
        )
    if target.chain.model_name == "lite":
        found.append("the lite model reads a change of the torso a quarter too small")
    return tuple(
        f"{text[0].upper()}{text[1:]}." if text[0] != "m" else f"{text}." for text in found
    )


@dataclass(frozen=True, slots=True)
class DifferenceLine:
    """How one curve of the target lies above the other version's, in words.

    is_told: the mean is more than the noise of both can make.
    """

    channel: str
    mean: str
    told_from: str
    largest: str
    is_told: bool


def difference_lines(other: Target, target: Target) -> tuple[DifferenceLine, ...]:
    """Return how a target differs from another version, one line a curve."""
    return tuple(_line(one) for one in difference(other, target).curves)


def _line(one: CurveDifference) -> DifferenceLine:
    scale, unit = one.unit.nominal, unit_text(one.unit)
    return DifferenceLine(
        f"{one.channel}, {one.part}" if one.part else str(one.channel),
        f"{signed(scale * one.mean, 2)}{unit}",
        f"{scale * one.told:.2f}{unit}",
        f"{signed(scale * one.largest, 2)}{unit} at {one.largest_deg:.0f}{DEGREE}",
        one.ratio >= 1,
    )


def difference_caution(other: Target, target: Target) -> str:
    """Say what stands in the way of comparing two targets; empty = nothing."""
    obstacles = difference(other, target).obstacles
    if not obstacles:
        return ""
    return f"Angles only; the two differ in {'; '.join(obstacles)}."


def difference_curves(other: Target, target: Target, channel: Channel) -> FloatArray:
    """Return the other version's centre as a deviation from the target's, (parts, 121).

    No row where the two cannot be compared in this channel.
    """
    found = [one for one in difference(target, other).curves if one.channel is channel]
    if not found:
        return np.empty((0, len(CRANK_DEG)))
    held = target.envelope(channel)
    # Fractions of the thigh are of each target's own; one rider's thigh is the same.
    own = other.segments.thigh / target.segments.thigh if held.unit is Unit.THIGH else 1.0
    turns = np.radians(CRANK_DEG)
    return held.unit.nominal * np.array(
        [
            own * harmonics.evaluate(np.array(theirs), turns)
            - harmonics.evaluate(np.array(ours), turns)
            for ours, theirs in zip(held.centre, other.envelope(channel).centre, strict=True)
        ]
    )
