"""What one setting-up of the camera beside a bike came to, how sure it is, and what to say of it.

Nothing here stops a watch: a poor view is told with the error to expect. Only new targets are
refused, where the camera is turned too far from square.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from posewatch.core.plane import (
    DISTANCE_TOLD_MM,
    YAW_REFUSED_DEG,
    YAW_TOLD_DEG,
    BikeView,
    CameraProfile,
    Lens,
    angle_error_deg,
    plane_map,
    project_px,
)
from posewatch.core.records import FloatArray

#: A yaw that is not known better than this is told.
YAW_SD_TOLD_DEG = 3.0
#: A wheelbase that differs this much (share) from the one on paper is told.
WHEELBASE_TOLD_SHARE = 0.01
#: A bike with its wheels that fills less of the picture's width than this is told.
BIKE_TOLD_SHARE = 0.5
#: Outer radius of a road wheel with its tyre, mm (622 mm rim seat, from memory).
WHEEL_RADIUS_MM = 340.0
#: The usual worked example of parallax: a joint so far along, so far off the plane, on such a
#: segment; and how far a measured or assumed depth may be wrong after correction, all mm.
EXAMPLE_ALONG_MM, EXAMPLE_DEPTH_MM, EXAMPLE_SEGMENT_MM = 400.0, 150.0, 440.0
DEPTH_DOUBT_MM = 30.0


class SetupMethod(StrEnum):
    """What the view was solved from."""

    BOARDS = "boards"
    TYPED = "typed"


@dataclass(frozen=True, slots=True)
class SetupSpread:
    """One standard deviation of each figure, from the fit."""

    scale_mm_per_px: float
    yaw_deg: float
    pitch_deg: float
    roll_deg: float
    distance_mm: float


@dataclass(frozen=True, slots=True)
class BikeSetup:
    """A solved view and what came out beside it.

    front_axle_mm, rear_axle_mm: x and y in the bike frame. scale_mm_per_px: of the bike's middle
    plane at the crank axis. rms_px: of what the fit left, a coordinate. known_wheelbase_mm: from
    the tape or the maker, None = not told.
    """

    method: SetupMethod
    view: BikeView
    front_axle_mm: tuple[float, float]
    rear_axle_mm: tuple[float, float]
    scale_mm_per_px: float
    spread: SetupSpread
    rms_px: float
    known_wheelbase_mm: float | None = None

    @property
    def wheelbase_mm(self) -> float:
        """From axle to axle, as found."""
        return math.dist(self.front_axle_mm, self.rear_axle_mm)

    @property
    def refuses_new_targets(self) -> bool:
        """The camera is turned too far from square to capture a target."""
        return abs(self.view.yaw_deg) > YAW_REFUSED_DEG

    def bike_share(self, lens: Lens) -> float:
        """Return how much of the picture's width the bike takes with its wheels, 1 = all of it."""
        (front_x, front_y), (rear_x, rear_y) = self.front_axle_mm, self.rear_axle_mm
        ends_mm = np.array(
            ((front_x + WHEEL_RADIUS_MM, front_y, 0.0), (rear_x - WHEEL_RADIUS_MM, rear_y, 0.0))
        )
        ends_px = project_px(lens, self.view, ends_mm)
        return float(abs(ends_px[0, 0] - ends_px[1, 0])) / lens.width_px


def scale_mm_per_px(lens: Lens, view: BikeView, place_mm: FloatArray | None = None) -> float:
    """Return how many millimetres of the bike's middle plane a pixel is, all directions' mean.

    place_mm: (2,) x and y where, by default the crank axis. NaN where it is not in the picture's
    plane in front of the camera.
    """
    place = np.zeros(2) if place_mm is None else place_mm
    at_px = project_px(lens, view, np.array((place[0], place[1], 0.0)))
    half = np.array(((0.5, 0.0), (-0.5, 0.0), (0.0, 0.5), (0.0, -0.5)))
    to_bike = plane_map(CameraProfile(lens, view)).to_bike_mm
    right, left, below, above = to_bike(at_px + half, np.zeros(4))
    (a, b), (c, d) = right - left, below - above
    return math.sqrt(abs(a * d - b * c))


def parallax_mm(along_mm: float, depth_mm: float, distance_mm: float) -> float:
    """Return by how much a point seems further along than it is.

    A point that is off the plane of the scale by a depth towards a camera at a distance seems to
    be at along * distance / (distance - depth).
    """
    return along_mm * distance_mm / (distance_mm - depth_mm) - along_mm


def parallax_deg(along_mm: float, depth_mm: float, distance_mm: float, segment_mm: float) -> float:
    """Return the parallax as the turn of a segment that ends in such a point, across it."""
    return math.degrees(math.atan2(parallax_mm(along_mm, depth_mm, distance_mm), segment_mm))


def cautions(lens: Lens, setup: BikeSetup) -> tuple[str, ...]:
    """Return what a fitter should know of this view, each as one line with the error to expect."""
    said = [_of_yaw(setup), _of_distance(setup), _of_doubt(setup), _of_wheelbase(setup)]
    said += [_of_crank(setup), _of_size(setup.bike_share(lens))]
    return tuple(line for line in said if line)


def _of_yaw(setup: BikeSetup) -> str:
    yaw = setup.view.yaw_deg
    if abs(yaw) <= YAW_TOLD_DEG:
        return ""
    way = "forwards" if yaw > 0 else "backwards"
    text = (
        f"the camera looks {abs(yaw):.1f} degrees {way} of square (at most {YAW_TOLD_DEG:g} are "
        f"good); without this profile a segment at 45 degrees would read "
        f"{angle_error_deg(yaw):.2f} degrees wrong; turn the camera and level again"
    )
    if setup.refuses_new_targets:
        text += f"; beyond {YAW_REFUSED_DEG:g} degrees no new target is captured"
    return text


def _of_distance(setup: BikeSetup) -> str:
    distance = setup.view.distance_mm
    if distance >= DISTANCE_TOLD_MM:
        return ""
    example = EXAMPLE_ALONG_MM, EXAMPLE_DEPTH_MM, distance, EXAMPLE_SEGMENT_MM
    left = EXAMPLE_ALONG_MM, DEPTH_DOUBT_MM, distance - EXAMPLE_DEPTH_MM, EXAMPLE_SEGMENT_MM
    return (
        f"the camera is {distance / 1000:.2f} m from the bike (at least "
        f"{DISTANCE_TOLD_MM / 1000:g} are good); a joint {EXAMPLE_DEPTH_MM:g} mm nearer than the "
        f"bike would turn a segment by {parallax_deg(*example):.1f} degrees, and by "
        f"{parallax_deg(*left):.1f} degrees still where its depth is {DEPTH_DOUBT_MM:g} mm off; "
        "move the camera back"
    )


def _of_doubt(setup: BikeSetup) -> str:
    sd = setup.spread.yaw_deg
    if sd <= YAW_SD_TOLD_DEG:
        return ""
    worst = abs(setup.view.yaw_deg) + sd
    add = (
        "add the distance from rear axle to crank axis, type the points of a larger picture to a "
        "third of a pixel, or use boards"
        if setup.method is SetupMethod.TYPED
        else "use a larger board or a larger picture"
    )
    return (
        f"how square the camera stands is only known to {sd:.1f} degrees: a segment at 45 degrees "
        f"may read {angle_error_deg(worst):.2f} degrees wrong; {add}"
    )


def _of_wheelbase(setup: BikeSetup) -> str:
    known, found = setup.known_wheelbase_mm, setup.wheelbase_mm
    if known is None or abs(found - known) <= WHEELBASE_TOLD_SHARE * known:
        return ""
    share = 100 * (found / known - 1)
    return (
        f"the wheelbase came out as {found:.0f} mm, not {known:.0f} ({share:+.1f} %): measure the "
        "printed bar and the wheelbase again, and see that the boards' middles were on the axles"
    )


def _of_crank(setup: BikeSetup) -> str:
    (front_x, front_y), (rear_x, rear_y) = setup.front_axle_mm, setup.rear_axle_mm
    if rear_x < 0 < front_x and -rear_x < front_x and abs(front_y + rear_y) / 2 < 150:
        return ""
    return (
        "the crank axis is not where a bike has it (between the axles, nearer to the rear one, "
        "about their height): front, crank and rear look mixed up, and then the side is wrong too"
    )


def _of_size(share: float) -> str:
    if share >= BIKE_TOLD_SHARE:
        return ""
    return (
        f"the bike takes {100 * share:.0f} % of the picture's width (at least "
        f"{100 * BIKE_TOLD_SHARE:.0f} are good): zoom in, or use a larger picture"
    )
