"""The stickers' colour: given by the fitter, or learned from the first pictures.

Colours are compared in CIE L*a*b*. Light that changes moves L* most, so a sticker with a colour of
its own is told by a* and b* and hardly by L*; a white, grey or black one by all three alike.
"""

from __future__ import annotations

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
#: Stickers of one colour are seen at so many of the five places in this share of the looks, and at
#: shoulder and hip, which hold still, in that: a foot's dot may be smeared.
LEAST_PLACES = 2
LEAST_SHARE = 0.3
STILL_PLACES = 2
STILL_SHARE = 0.6


@dataclass(frozen=True, slots=True)
class RoundSpot:
    """A round spot of any colour.

    lab: L*a*b* of its middle. contrast: how far from it the likest of its surroundings is.
    lighter: by how much its L* is above that of the lightest of them.
    """

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
    return to_lab(rgb)[0, 0].astype(np.float64)


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
    margin = int(np.ceil(around)) + 1
    cut = _cut(rgb, centre_px, reach_px + margin)
    if min(cut.shape[:2]) <= 2 * margin:
        return []
    lab = to_lab(cut)
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
        y, x = np.unravel_index(int(np.argmax(contrast)), contrast.shape)
        if contrast[y, x] < LEAST_CONTRAST:
            break
        l_star, a_star, b_star = middle[:, y, x].tolist()
        lab_there = (l_star, a_star, b_star)
        found.append(RoundSpot(lab_there, float(contrast[y, x]), float(lighter[y, x])))
        contrast[max(0, y - apart) : y + apart + 1, max(0, x - apart) : x + apart + 1] = 0
    return found


def common_colour(found: Sequence[Candidate]) -> FloatArray | None:
    """Return the L*a*b* (3,) of the stickers: the one colour that is seen at nearly every place.

    None where there is no such colour. Among several the one that stands out most is taken; a
    sticker is alone at its place, so a colour seen several times over in one look counts less.
    Places 0 and 1 are shoulder and hip.
    """
    if not found:
        return None
    labs = np.array([c.spot.lab for c in found])
    contrasts = np.array([c.spot.contrast for c in found])
    lighter = np.array([c.spot.lighter for c in found])
    still = np.array([c.place < STILL_PLACES for c in found])
    n_looks = 1 + max(c.look for c in found)
    looks = np.array([c.place * n_looks + c.look for c in found])
    n_all = n_looks * (1 + max(c.place for c in found))
    best_score, best = 0.0, None
    tried: list[FloatArray] = []
    for lab in labs[np.argsort(-contrasts, kind="stable")]:
        if tried and np.linalg.norm(np.array(tried) - lab, axis=1).min() < ONE_COLOUR / 3:
            continue
        tried.append(lab)
        alike = np.linalg.norm((labs - lab) * weights(lab), axis=1) <= ONE_COLOUR
        unsmeared = alike & still if (alike & still).any() else alike
        colour = np.median(labs[unsmeared], axis=0)
        coloured = np.hypot(colour[1], colour[2]) >= LEAST_CHROMA
        if not coloured and np.median(lighter[alike]) < LEAST_CONTRAST:
            continue
        times = np.bincount(looks[alike], minlength=n_all)
        strongest = np.zeros(n_all)
        np.maximum.at(strongest, looks[alike], contrasts[alike])
        share = (times > 0).reshape(-1, n_looks).mean(axis=1)
        score = float((strongest**2 / np.maximum(times, 1)).sum())
        enough = np.count_nonzero(share >= LEAST_SHARE) >= LEAST_PLACES
        if enough and share[:STILL_PLACES].min() >= STILL_SHARE and score > best_score:
            best_score, best = score, colour
    return best


def _cut(rgb: Picture, centre_px: tuple[float, float], reach_px: float) -> Picture:
    height, width = rgb.shape[:2]
    x, y = centre_px
    left, right = (int(np.clip(edge, 0, width)) for edge in (x - reach_px, x + reach_px + 1))
    top, bottom = (int(np.clip(edge, 0, height)) for edge in (y - reach_px, y + reach_px + 1))
    return rgb[top:bottom, left:right]
