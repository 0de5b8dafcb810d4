"""The camera's view of the bike from points and lengths that a person types.

Five points and a few tape measures say how large the bike is in the picture, but little about how
square the camera stands: that shows only in how the sizes differ along the bike, by less than a
percent. So what a careful person usually does (nearly square, nearly level) is part of the solution
with its own doubt, and what stays in doubt is told.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from posewatch.camera.bike_view import CRANK_OFFSET_MM, FRONT_OFFSET_MM, REAR_OFFSET_MM
from posewatch.camera.view_fit import N_VIEW, YAW, ViewFit, fit_view, spread_of, start_view, view_of
from posewatch.core.bike_setup import BikeSetup, SetupMethod, SetupSpread, scale_mm_per_px
from posewatch.core.plane import Lens, project_px
from posewatch.core.records import FloatArray, Side
from posewatch.errors import BadInput

#: What a careful person's camera is like before anything is measured: degrees, one SD.
YAW_PRIOR_SD_DEG, PITCH_PRIOR_SD_DEG = 10.0, 5.0
#: How true lengths and heights are by tape and trainer, mm, and the crank is put up or down, deg.
LENGTH_SD_MM, HEIGHT_SD_MM, CRANK_SD_DEG = 3.0, 3.0, 5.0
#: How well a point is read from a picture by eye, px.
POINT_SD_PX = 1.0
#: More is left over than this many of its SDs: a point or a length is wrong.
RMS_REFUSED_SD = 4.0

#: Beside the view, a fit finds x and y of both axles (mm) and how far the crank is off straight up
#: and down (degrees); about how far each may have to go.
SIZES = [10.0, 10.0, 10.0, 10.0, 1.0, 1.0]

FRONT, REAR, CRANK, TOP, BOTTOM = range(5)
POINTS = ("front axle", "rear axle", "crank axis", "pedal at the top", "pedal at the bottom")


@dataclass(frozen=True, slots=True, eq=False)
class TypedBike:
    """What was typed.

    points_px: (5, 2) front axle, rear axle, crank axis, and the camera side's pedal spindle with
    its crank straight up and straight down. Lengths in mm; None = not measured. offsets_mm: of
    front axle's end, crank arm's outer face (crank axis and pedal spindle) and rear axle's end
    from the middle plane. front_axle_higher_mm: above the rear one, 0 = the bike stands level.
    """

    points_px: FloatArray
    wheelbase_mm: float
    crank_length_mm: float
    rear_to_crank_mm: float | None = None
    point_sd_px: float = POINT_SD_PX
    offsets_mm: tuple[float, float, float] = (FRONT_OFFSET_MM, CRANK_OFFSET_MM, REAR_OFFSET_MM)
    front_axle_higher_mm: float = 0.0


def solve_typed(lens: Lens, typed: TypedBike) -> BikeSetup:
    """Return the most probable view, with what stays in doubt.

    Raises:
        BadInput: points or lengths that no bike has, or that do not fit each other.
    """
    _require_a_bike(lens, typed)
    points = typed.points_px
    side = Side.RIGHT if points[FRONT, 0] > points[REAR, 0] else Side.LEFT

    def misses_px(values: FloatArray) -> FloatArray:
        return project_px(lens, view_of(side, values), _points_mm(values, typed)) - points

    def residuals(values: FloatArray) -> FloatArray:
        seen = (misses_px(values) / typed.point_sd_px).ravel()
        return np.concatenate((seen, _known_misses(values, typed)))

    fits = [fit_view(residuals, start, SIZES) for start in _starts(lens, side, typed)]
    fit, other = sorted(fits, key=lambda one: one.half_chi2)
    rms_px = float(np.sqrt(np.mean(misses_px(fit.values) ** 2)))
    n_used = len(points) * 2 + len(_known_misses(fit.values, typed))
    misfit_sd = float(np.linalg.norm(residuals(fit.values))) / math.sqrt(n_used)
    if not (fit.settled and misfit_sd <= RMS_REFUSED_SD):
        raise BadInput(
            f"The typed points and lengths do not fit each other: {rms_px:.1f} px are left over.",
            "Look at each point again (x from the picture's left edge, y from its top), and at "
            "wheelbase, crank length and rear-axle-to-crank distance.",
        )
    front_x, front_y, rear_x, rear_y = (float(v) for v in fit.values[N_VIEW : N_VIEW + 4])
    view = view_of(side, fit.values)
    return BikeSetup(
        SetupMethod.TYPED,
        view,
        (front_x, front_y),
        (rear_x, rear_y),
        scale_mm_per_px(lens, view),
        _with_unseen_yaw(spread_of(lens, side, fit), fit, other, scale_mm_per_px(lens, view)),
        rms_px,
        typed.wheelbase_mm,
    )


def _with_unseen_yaw(
    spread: SetupSpread, fit: ViewFit, other: ViewFit, scale: float
) -> SetupSpread:
    """Return the spread with what the slopes at the best values do not show.

    Foreshortening alone cannot tell a turn to one side from the same turn to the other: the other
    solution counts by its probability. And close to square the scale's slope over yaw is nil; all
    that yaw does to it is 1 / cos yaw.
    """
    odds = math.exp(fit.half_chi2 - other.half_chi2)
    gap_deg = float(fit.values[YAW] - other.values[YAW])
    yaw_deg = math.hypot(spread.yaw_deg, gap_deg * math.sqrt(odds / (1.0 + odds)))
    bent = scale * (1.0 / math.cos(math.radians(min(yaw_deg, 45.0))) - 1.0)
    scale_sd = math.hypot(spread.scale_mm_per_px, bent)
    return replace(spread, yaw_deg=yaw_deg, scale_mm_per_px=scale_sd)


def _require_a_bike(lens: Lens, typed: TypedBike) -> None:
    for name, (x, y) in zip(POINTS, typed.points_px.tolist(), strict=True):
        if not (0 <= x <= lens.width_px and 0 <= y <= lens.height_px):
            raise BadInput(
                f"The {name} at {x:g},{y:g} is outside the picture of {lens.width_px} x "
                f"{lens.height_px} px.",
                "Type x from the picture's left edge and y from its top, in px.",
            )
    lengths = [("wheelbase", typed.wheelbase_mm, 500.0, 3000.0)]
    lengths.append(("crank length", typed.crank_length_mm, 60.0, 250.0))
    if typed.rear_to_crank_mm is not None:
        lengths.append(("rear-axle-to-crank distance", typed.rear_to_crank_mm, 250.0, 1000.0))
    lengths.append(("point SD (px)", typed.point_sd_px, 0.05, 10.0))
    for name, value, least, most in lengths:
        if not least <= value <= most:
            raise BadInput(
                f"A {name} of {value:g} cannot be.", f"Give {least:g} to {most:g}, lengths in mm."
            )
    apart_px = float(np.linalg.norm(typed.points_px[FRONT] - typed.points_px[REAR]))
    throw_px = float(np.linalg.norm(typed.points_px[TOP] - typed.points_px[BOTTOM]))
    crank_share = typed.crank_length_mm / typed.wheelbase_mm
    if apart_px < 20 * typed.point_sd_px or not 0.5 < throw_px / (2 * crank_share * apart_px) < 2:
        raise BadInput(
            f"The axles are {apart_px:.0f} px apart and the pedal's top and bottom places "
            f"{throw_px:.0f} px: no bike of these lengths looks like that.",
            "Look at each point again (x from the picture's left edge, y from its top).",
        )


def _starts(lens: Lens, side: Side, typed: TypedBike) -> list[FloatArray]:
    """Return values for a camera turned a little either way.

    In front the view, then axles, and how far the crank is off up and down.
    """
    points = typed.points_px
    apart_px = float(np.linalg.norm(points[FRONT] - points[REAR]))
    px_per_mm = apart_px / typed.wheelbase_mm
    reach_mm = lens.fx_px / px_per_mm
    values = start_view(lens, side, points[CRANK], typed.offsets_mm[1], reach_mm)
    square_x = values[0]
    ahead = 1.0 if side is Side.RIGHT else -1.0
    for axle in (FRONT, REAR):
        step = (points[axle] - points[CRANK]) / px_per_mm
        values += [ahead * float(step[0]), -float(step[1])]
    starts = []
    for yaw in (-YAW_PRIOR_SD_DEG, YAW_PRIOR_SD_DEG):
        values[YAW] = yaw
        values[0] = square_x - reach_mm * math.tan(math.radians(yaw))
        starts.append(np.array([*values, 0.0, 0.0]))
    return starts


def _points_mm(values: FloatArray, typed: TypedBike) -> FloatArray:
    """Return (5, 3) bike-frame places of the typed points."""
    front_x, front_y, rear_x, rear_y, top_deg, bottom_deg = values[N_VIEW:].tolist()
    front_z, crank_z, rear_z = typed.offsets_mm
    length, top, bottom = typed.crank_length_mm, math.radians(top_deg), math.radians(bottom_deg)
    return np.array(
        (
            (front_x, front_y, front_z),
            (rear_x, rear_y, rear_z),
            (0.0, 0.0, crank_z),
            (length * math.sin(top), length * math.cos(top), crank_z),
            (-length * math.sin(bottom), -length * math.cos(bottom), crank_z),
        )
    )


def _known_misses(values: FloatArray, typed: TypedBike) -> FloatArray:
    """Return how far the values are from lengths and habits, in standard deviations."""
    yaw, pitch = values[3:5]
    front_x, front_y, rear_x, rear_y, top, bottom = values[N_VIEW:].tolist()
    wheelbase = math.hypot(front_x - rear_x, front_y - rear_y)
    misses = [
        yaw / YAW_PRIOR_SD_DEG,
        pitch / PITCH_PRIOR_SD_DEG,
        (wheelbase - typed.wheelbase_mm) / LENGTH_SD_MM,
        (front_y - rear_y - typed.front_axle_higher_mm) / HEIGHT_SD_MM,
        top / CRANK_SD_DEG,
        bottom / CRANK_SD_DEG,
    ]
    if typed.rear_to_crank_mm is not None:
        misses.append((math.hypot(rear_x, rear_y) - typed.rear_to_crank_mm) / LENGTH_SD_MM)
    return np.array(misses)
