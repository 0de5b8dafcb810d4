"""A pedalling rider's sticker dots, drawn on made ground, and a pose model's word of them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from posewatch.core.dot_fit import N_DOTS
from posewatch.core.landmarks import LANDMARKS, NOSE
from posewatch.core.records import N_LANDMARKS, NS_PER_S, FloatArray, Frame, Side
from posewatch.core.sources import Picture, TimedPicture

STICKER = (200, 50, 180)
DIAMETER_PX = 6.0
SHOULDER, HIP, KNEE, ANKLE, PEDAL = range(N_DOTS)
_CRANK = (308.0, 385.0)
_CRANK_PX = 42.0
_SEGMENT_PX = 109.0
#: Colours that lie around a dot, left and right of it.
_GROUNDS = (
    ((40, 90, 160), (40, 90, 160)),
    ((30, 30, 34), (120, 120, 118)),
    ((190, 140, 110), (190, 140, 110)),
    ((225, 225, 225), (60, 120, 100)),
    ((50, 50, 52), (140, 110, 80)),
)


@dataclass(frozen=True, slots=True)
class Ride:
    """How it is filmed.

    scale: px for each px of a 640 x 480 picture. exposure_s: for how long each picture is exposed.
    light: factor on all colours. noise: SD of each value. faces: 1 = right in the picture, -1 =
    left. sticker: None = the rider wears none.
    """

    rate_hz: float = 30.0
    rpm: float = 95.0
    scale: int = 1
    exposure_s: float = 0.0
    light: float = 1.0
    noise: float = 2.0
    faces: int = 1
    sticker: tuple[int, int, int] | None = STICKER
    landmark_noise_px: float = 2.0

    @property
    def side(self) -> Side:
        """The side that the camera sees."""
        return Side.RIGHT if self.faces > 0 else Side.LEFT


def centres_px(ride: Ride, t_s: float, near: bool = True) -> FloatArray:
    """Return (5, 2) true centres: shoulder, hip, knee, ankle, pedal spindle; image px."""
    angle = 2 * math.pi * ride.rpm / 60 * t_s + (0 if near else math.pi)
    pedal = np.array(_CRANK) + _CRANK_PX * np.array((math.sin(angle), -math.cos(angle)))
    ankle = pedal + np.array((-24.0, -43.0 + 3.0 * math.sin(angle)))
    hip = np.array((250.0, 195.0)) + (0.8 * math.sin(2 * angle), 0.5 * math.cos(2 * angle))
    middle, half = (hip + ankle) / 2, (ankle - hip) / 2
    out = math.sqrt(max(0.0, _SEGMENT_PX**2 - float(half @ half)))
    knee = middle + out * np.array((half[1], -half[0])) / np.hypot(*half)
    shoulder = hip + (83.0, -86.0)
    points = np.array((shoulder, hip, knee, ankle, pedal))
    if ride.faces < 0:
        points[:, 0] = 640.0 - points[:, 0]
    return points * ride.scale


def draw(
    ride: Ride, room: Picture, t_s: float, rng: np.random.Generator, hidden: FloatArray
) -> Picture:
    """Draw one picture into a room; hidden (5,) is the share of each dot, from its left."""
    rgb = room.copy()
    moments_s = t_s + ride.exposure_s * (np.arange(9) / 8 - 0.5 if ride.exposure_s else np.zeros(1))
    ways = np.array([centres_px(ride, float(t)) for t in moments_s])
    centres = centres_px(ride, t_s)
    # The nearer part of the body lies over the farther one: from the shoulder to the pedal.
    for dot, (x, y) in enumerate(centres):
        reach = 16 * ride.scale
        part = np.full((2 * reach, 2 * reach, 3), _GROUNDS[dot][0], np.float64)
        part[:, reach:] = _GROUNDS[dot][1]
        left, top = int(x) - reach, int(y) - reach
        if ride.sticker is not None:
            way_px = ways[:, dot] - (left, top)
            _stick(part, way_px, DIAMETER_PX * ride.scale, ride.sticker, hidden[dot])
        part = part * ride.light + rng.normal(0, ride.noise, part.shape)
        rgb[top : top + 2 * reach, left : left + 2 * reach] = np.clip(np.rint(part), 0, 255)
    return rgb


def _room(ride: Ride, rng: np.random.Generator) -> Picture:
    height, width = 480 * ride.scale, 640 * ride.scale
    rgb = np.array((186, 180, 170)) * ride.light + rng.normal(0, ride.noise, (height, width, 3))
    return np.clip(np.rint(rgb), 0, 255).astype(np.uint8)


def _stick(
    rgb: FloatArray,
    way_px: FloatArray,
    diameter_px: float,
    colour: tuple[int, int, int],
    hidden: float,
) -> None:
    """Lay a disc over a square part, averaged over its way, each pixel in 64 parts."""
    n = len(rgb)
    fine = (np.arange(8 * n) + 0.5) / 8
    share: NDArray[np.float64] = np.zeros((n, n))
    for x, y in way_px:
        inside = (fine[None, :] - x) ** 2 + (fine[:, None] - y) ** 2 < (diameter_px / 2) ** 2
        inside &= fine[None, :] - x >= diameter_px * (hidden - 0.5)
        share += inside.reshape(n, 8, n, 8).mean(axis=(1, 3)) / len(way_px)
    rgb += share[..., None] * (np.array(colour) - rgb)


def landmarks(ride: Ride, t_s: float, t_ns: int, rng: np.random.Generator) -> Frame:
    """Return what a pose model says: joints a little beside the dots, both legs."""
    points = np.tile(np.array((320.0, 60.0)) * ride.scale, (N_LANDMARKS, 1))
    for near, side in ((True, ride.side), (False, _other(ride.side))):
        centres = centres_px(ride, t_s, near)
        shoulder, hip, knee, ankle, pedal = centres + np.array((1.0, 2.0)) * ride.scale
        forward = ride.faces * ride.scale
        toe, heel = (
            pedal + (forward * 3.0, -12.0 * ride.scale),
            pedal
            + (
                -forward * 47.0,
                -18.0 * ride.scale,
            ),
        )
        wrist = shoulder + np.array((ride.faces * 80.0, 95.0)) * ride.scale
        elbow = (shoulder + wrist) / 2
        points[LANDMARKS[side]] = (shoulder, elbow, wrist, hip, knee, ankle, heel, toe)
    points[NOSE] = points[LANDMARKS[ride.side][0]] + np.array((ride.faces * 40.0, -50.0))
    points += rng.normal(0, ride.landmark_noise_px * ride.scale, points.shape)
    seen = np.full(N_LANDMARKS, 0.8)
    return Frame(t_ns, points, seen, seen.copy())


def film(
    ride: Ride,
    seconds: float,
    seed: int = 0,
    hidden: Callable[[float], FloatArray] | None = None,
) -> Iterator[tuple[TimedPicture, Frame]]:
    """Give pictures and their landmarks; hidden(t_s) gives (5,) covered shares."""
    rng = np.random.default_rng(seed)
    room = _room(ride, rng)
    for number in range(round(seconds * ride.rate_hz)):
        t_s = number / ride.rate_hz
        t_ns = round(t_s * NS_PER_S)
        covered = np.zeros(N_DOTS) if hidden is None else hidden(t_s)
        picture = TimedPicture(t_ns, draw(ride, room, t_s, rng, covered))
        yield picture, landmarks(ride, t_s, t_ns, rng)


def swapped(frame: Frame) -> Frame:
    """Return a frame with the labels left and right exchanged."""
    points = frame.points_px.copy()
    for side in Side:
        points[LANDMARKS[side]] = frame.points_px[LANDMARKS[_other(side)]]
    return Frame(frame.t_ns, points, frame.visibility, frame.presence)


def _other(side: Side) -> Side:
    return Side.LEFT if side is Side.RIGHT else Side.RIGHT
