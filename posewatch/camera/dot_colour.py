"""The stickers' colour: given by the fitter, or learned from the first pictures.

Colours are compared in CIE L*a*b*. Light that changes moves L* most, so a sticker with a colour of
its own is told by a* and b* and hardly by L*; a white, grey or black one by all three alike.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from posewatch.camera.opencv import cv2
from posewatch.core.records import FloatArray
from posewatch.core.sources import Picture
from posewatch.errors import BadInput

Lab = NDArray[np.float32]
#: OpenCV's 8-bit L*a*b*: L* times 255 / 100, a* and b* plus 128 (its documentation of colours).
_FROM_8_BIT = np.array([[100 / 255, 0, 0, 0], [0, 1, 0, -128], [0, 0, 1, -128]], np.float32)

#: A sticker of this chroma or more is told by its hue; L* then counts for this much.
COLOURED_FROM = 25.0
LIGHTNESS_WEIGHT = 0.3
#: A spot stands out from what is around it by this much at least, in units of L*a*b*.
LEAST_CONTRAST = 12.0
#: A sticker has at least this chroma, or is lighter by LEAST_CONTRAST than all around it.
LEAST_CHROMA = 12.0
#: Spots of one sticker colour differ by at most this much, chiefly by their light.
ONE_COLOUR = 20.0
#: The surroundings of a spot are looked at so many diameters from its middle, all around.
AROUND_DIAMETERS = 1.0
N_AROUND = 12
#: So many of the clearest spots near each joint are candidates.
N_CANDIDATES = 6
#: Shoulder and hip hold still (a foot's dot may be smeared): a sticker is seen there in this share
#: of the looks, within so many diameters of one and the same place.
STILL_PLACES = 2
STILL_SHARE = 0.6
STILL_DIAMETERS = 1.0


@dataclass(frozen=True, slots=True)
class RoundSpot:
    """A round spot of any colour.

    x_px, y_px: where its middle is. lab: L*a*b* there. contrast: how far from it the likest of its
    surroundings is. lighter: by how much its L* is above that of the lightest of them.
    """

    x_px: float
    y_px: float
    lab: tuple[float, float, float]
    contrast: float
    lighter: float


@dataclass(frozen=True, slots=True)
class Candidate:
    """A round spot that may be a sticker.

    place: near which of the stickers' places; look: of how many-th look at it.
    """

    place: int
    look: int
    spot: RoundSpot


def to_lab(rgb: Picture) -> Lab:
    """Return (h, w, 3) float32 L* (0 to 100), a*, b* of a part of a picture.

    In whole steps of OpenCV's 8-bit form, which is many times faster and finer than any noise.
    """
    steps = cv2.cvtColor(np.ascontiguousarray(rgb), cv2.COLOR_RGB2Lab)
    return np.asarray(cv2.transform(steps.astype(np.float32), _FROM_8_BIT), np.float32)


def weights(lab: FloatArray) -> Lab:
    """Return what L*, a* and b* count for a sticker of this colour, (3,)."""
    coloured = np.hypot(lab[1], lab[2]) >= COLOURED_FROM
    return np.array((LIGHTNESS_WEIGHT if coloured else 1.0, 1.0, 1.0), np.float32)


def parse_colour(text: str) -> FloatArray:
    """Return the L*a*b* (3,) of a colour written as ``#rrggbb``.

    Raises:
        BadInput: it is not written so.
    """
    if not re.fullmatch(r"#[0-9a-fA-F]{6}", text):
        raise BadInput(
            f"{text!r} is not a colour.", "Write the stickers' colour as #rrggbb, like #ff2fb0."
        )
    rgb = np.array([[[int(text[i : i + 2], 16) for i in (1, 3, 5)]]], np.uint8)
    return np.asarray(to_lab(rgb)[0, 0], np.float64)


def round_spots(
    rgb: Picture, diameter_px: float, centre_px: tuple[float, float], reach_px: float
) -> list[RoundSpot]:
    """Return the clearest round spots near a place, of any colour.

    A spot's middle differs from all that lies around it: an edge or a stripe does not.

    Args:
        rgb: the whole picture.
        diameter_px: about what a sticker's is.
        centre_px, reach_px: where to look.
    """
    around = AROUND_DIAMETERS * diameter_px
    margin = math.ceil(around) + 1
    height, width = rgb.shape[:2]
    x, y = centre_px
    left, right = max(0, math.floor(x - reach_px) - margin), math.ceil(x + reach_px) + margin
    top, bottom = max(0, math.floor(y - reach_px) - margin), math.ceil(y + reach_px) + margin
    if min(right, width) - left <= 2 * margin or min(bottom, height) - top <= 2 * margin:
        return []
    lab = to_lab(rgb[top:bottom, left:right])
    h, w = lab.shape[0] - 2 * margin, lab.shape[1] - 2 * margin
    planes = np.ascontiguousarray(np.moveaxis(cv2.blur(lab, (3, 3)), 2, 0))
    middle = planes[:, margin : margin + h, margin : margin + w]
    contrast2 = np.full((h, w), np.inf, np.float32)
    lighter = np.full((h, w), np.inf, np.float32)
    for turn in np.arange(N_AROUND) * (2 * np.pi / N_AROUND):
        dx, dy = round(around * np.cos(turn)), round(around * np.sin(turn))
        off = planes[:, margin + dy : margin + dy + h, margin + dx : margin + dx + w] - middle
        np.minimum(lighter, -off[0], out=lighter)
        np.minimum(contrast2, np.einsum("cyx,cyx->yx", off, off), out=contrast2)
    contrast = np.sqrt(contrast2)
    found = []
    apart = max(1, round(diameter_px / 2))
    for _ in range(N_CANDIDATES):
        row, column = divmod(int(np.argmax(contrast)), w)
        if contrast[row, column] < LEAST_CONTRAST:
            break
        l_star, a_star, b_star = middle[:, row, column].tolist()
        found.append(
            RoundSpot(
                left + margin + column + 0.5,
                top + margin + row + 0.5,
                (l_star, a_star, b_star),
                float(contrast[row, column]),
                float(lighter[row, column]),
            )
        )
        contrast[
            max(0, row - apart) : row + apart + 1, max(0, column - apart) : column + apart + 1
        ] = 0
    return found


def common_colour(found: Sequence[Candidate], diameter_px: float) -> FloatArray | None:
    """Return the L*a*b* (3,) of the stickers: the colour that stands out and holds still.

    Args:
        found: candidates of several looks at each place; places 0 and 1 are shoulder and hip.
        diameter_px: about what a sticker's is.

    Returns:
        None where no colour is seen both at the shoulder and at the hip. Of several the one that
        stands out most over all places; a sticker is alone at its place, so a colour seen several
        times over in one look counts less.
    """
    if not found:
        return None
    labs = np.array([c.spot.lab for c in found])
    contrasts = np.array([c.spot.contrast for c in found])
    lighter = np.array([c.spot.lighter for c in found])
    n_looks = 1 + max(c.look for c in found)
    looks = np.array([c.place * n_looks + c.look for c in found])
    best_score, best = 0.0, None
    tried: list[FloatArray] = []
    for lab in labs[np.argsort(-contrasts, kind="stable")]:
        if tried and np.linalg.norm(np.array(tried) - lab, axis=1).min() < ONE_COLOUR / 3:
            continue
        tried.append(lab)
        alike = np.linalg.norm((labs - lab) * weights(lab), axis=1) <= ONE_COLOUR
        still = _still(found, alike, n_looks, diameter_px)
        if still is None:
            continue
        colour = np.median(labs[still], axis=0)
        if math.hypot(colour[1], colour[2]) < LEAST_CHROMA and (
            np.median(lighter[still]) < LEAST_CONTRAST
        ):
            continue
        times = np.bincount(looks[alike])
        strongest = np.zeros(len(times))
        np.maximum.at(strongest, looks[alike], contrasts[alike])
        score = float((strongest**2 / np.maximum(times, 1)).sum())
        if score > best_score:
            best_score, best = score, colour
    return best


def _still(
    found: Sequence[Candidate], alike: NDArray[np.bool_], n_looks: int, diameter_px: float
) -> list[int] | None:
    """Return the candidates of one colour that hold still at shoulder and hip; None = not both."""
    kept: list[int] = []
    for place in range(STILL_PLACES):
        here = [i for i in np.flatnonzero(alike).tolist() if found[i].place == place]
        if not here:
            return None
        strongest = max(here, key=lambda i: found[i].spot.contrast)
        at = (found[strongest].spot.x_px, found[strongest].spot.y_px)
        same = [
            i
            for i in here
            if math.dist(at, (found[i].spot.x_px, found[i].spot.y_px))
            <= STILL_DIAMETERS * diameter_px
        ]
        if len({found[i].look for i in same}) < STILL_SHARE * n_looks:
            return None
        kept += same
    return kept
