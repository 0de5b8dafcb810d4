"""Round spots of the stickers' colour in a part of a picture, to a fraction of a pixel."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from posewatch.camera.dot_colour import Lab, to_lab, weights
from posewatch.camera.opencv import cv2
from posewatch.core.dot_fit import Spot
from posewatch.core.records import FloatArray
from posewatch.core.sources import Picture

#: A pixel is of a spot where it is nearer to the sticker's colour than all around it and than
#: usual, by so much: little enough for a foot's dot that is smeared over more than twice its width.
SPOT_SHARE = 0.75
#: Around means within this window, in diameters: no spot, smeared or not, is wider than it.
AROUND_DIAMETERS = 1.7
#: Ground nearer than this to the sticker's colour is taken to be so far.
LEAST_AWAY = 8.0
#: Blobs outside these shares of the sticker's area are not measured at all.
ROUGH_AREA = (0.2, 5.0)
#: A spot's share of the sticker ends this far outside the rough blob (colour is stored at half the
#: picture's resolution), and its surroundings reach this much farther.
FRINGE_PX = 2
RING_PX = 2
#: Fewer px of surroundings say nothing.
LEAST_RING = 8
#: The ground under a pixel is that around it within about so many diameters.
GROUND_DIAMETERS = 0.33
#: Keep a spot on ground of its own colour, and a pixel without ground, from dividing by nothing.
LEAST_WAY2 = 1e-3
LEAST_WEIGHT = 1e-6


@dataclass(frozen=True, slots=True)
class Window:
    """A part of a picture: whole px, right and bottom excluded."""

    left: int
    top: int
    right: int
    bottom: int


def window(
    picture: Picture, left_px: float, top_px: float, right_px: float, bottom_px: float
) -> Window | None:
    """Return the part of a picture between edges, None where it lies outside."""
    height, width = picture.shape[:2]
    left, top = max(0, math.floor(left_px)), max(0, math.floor(top_px))
    right, bottom = min(width, math.ceil(right_px)), min(height, math.ceil(bottom_px))
    if right - left < 1 or bottom - top < 1:
        return None
    return Window(left, top, right, bottom)


def find_spots(
    rgb: Picture, where: Window, colour: FloatArray, area_px: float
) -> list[tuple[Spot, FloatArray]]:
    """Return the spots in a part of a picture, each with the L*a*b* (3,) of its middle.

    Args:
        rgb: the whole picture.
        where: the part to look at.
        colour: (3,) L*a*b* of the stickers.
        area_px: about what a sticker covers.
    """
    scale = weights(colour)
    lab = to_lab(rgb[where.top : where.bottom, where.left : where.right])
    sticker = colour.astype(np.float32)
    off = (cv2.blur(lab, (3, 3)) - sticker) * scale
    away2 = np.asarray(cv2.transform(off * off, _SUM), np.float32)
    # A grey closing fills in whatever of the colour is narrower than its window.
    size = 2 * round(AROUND_DIAMETERS / 2.0 * math.sqrt(4.0 / math.pi * area_px)) + 1
    around2 = cv2.morphologyEx(away2, cv2.MORPH_CLOSE, np.ones((size, size), np.uint8))
    usual2 = max(cv2.mean(away2)[0], LEAST_AWAY**2)
    like = (away2 < SPOT_SHARE**2 * np.minimum(around2, usual2)).astype(np.uint8)
    n, labels, stats, _ = cv2.connectedComponentsWithStats(like, connectivity=8)
    found = []
    for label in range(1, n):
        left, top, width, height, area = stats[label].tolist()
        if not ROUGH_AREA[0] * area_px <= area <= ROUGH_AREA[1] * area_px:
            continue
        if left == 0 or top == 0 or left + width == like.shape[1] or top + height == like.shape[0]:
            continue  # cut off by the window
        room = FRINGE_PX + RING_PX
        x0, y0 = max(0, left - room), max(0, top - room)
        part = np.s_[y0 : top + height + room, x0 : left + width + room]
        corner = (where.left + x0, where.top + y0)
        blob = (labels[part] == label).astype(np.uint8)
        spot = _measure(lab[part], blob, like[part], sticker, area_px, corner)
        if spot is not None:
            nearest = int(np.argmin(np.where(blob, away2[part], np.inf)))
            found.append((spot, lab[part].reshape(-1, 3)[nearest].astype(np.float64)))
    return found


def _measure(
    lab: Lab,
    blob: NDArray[np.uint8],
    like: NDArray[np.uint8],
    sticker: Lab,
    area_px: float,
    corner_px: tuple[int, int],
) -> Spot | None:
    """Return a blob's centre, area and spread from how much of each pixel is sticker.

    A pixel's share of sticker is where its colour lies on the way from the surroundings' to the
    sticker's. Shares add up to the area and keep their centroid however blurred the spot is.
    """
    near = cv2.dilate(blob, _NEAR)
    ring = (cv2.dilate(near, _RING) > near) & (like == 0)
    counted = ring.astype(np.float32)
    if cv2.countNonZero(counted) < LEAST_RING:
        return None
    # What is nearest around a pixel counts most. Outside the part there is nothing (zeros).
    sigma_px = GROUND_DIAMETERS * math.sqrt(4.0 / math.pi * area_px)
    total = cv2.GaussianBlur(
        lab * counted[..., None], (0, 0), sigma_px, borderType=cv2.BORDER_CONSTANT
    )
    count = cv2.GaussianBlur(counted, (0, 0), sigma_px, borderType=cv2.BORDER_CONSTANT)
    ground = total / np.maximum(count, LEAST_WEIGHT)[..., None]
    way = sticker - ground
    along = cv2.transform((lab - ground) * way, _SUM)
    share = np.asarray(along / (cv2.transform(way * way, _SUM) + LEAST_WAY2))
    share = np.minimum(np.maximum(share, 0.0), near)
    sums = cv2.moments(share)
    area = sums["m00"]
    if not area > 0:
        return None
    # A pixel's middle lies half a pixel from its corner, from which image px count.
    x, y = corner_px[0] + sums["m10"] / area + 0.5, corner_px[1] + sums["m01"] / area + 0.5
    return Spot(x, y, area, sums["mu20"] / area, sums["mu11"] / area, sums["mu02"] / area)


def _disc(radius: int) -> NDArray[np.uint8]:
    size = 2 * radius + 1
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size)), np.uint8)


_SUM = np.ones((1, 3), np.float32)
_NEAR = _disc(FRINGE_PX)
_RING = _disc(RING_PX)
