"""Reads the sticker dots in each picture, for a measuring chain whose points are dots."""

from __future__ import annotations

import math
from dataclasses import dataclass

from posewatch.camera import dot_colour
from posewatch.camera.dot_colour import Candidate
from posewatch.camera.dot_finding import Window, find_spots, window
from posewatch.core import dot_fit, dots
from posewatch.core.dot_fit import Expected, Spot
from posewatch.core.dots import DotsState
from posewatch.core.landmarks import FacingState, near_side, vote_facing
from posewatch.core.records import NS_PER_S, FloatArray, Frame, Side
from posewatch.core.sources import TimedPicture

#: The colour is learned from pictures over so long, one of the dots' places in each.
LEARN_NS = NS_PER_S
#: With no dot seen for so long the light may be another: the colour is learned anew.
RELEARN_NS = NS_PER_S
#: A colour just learned is not the stickers' if in the next second fewer of the dots are found.
TRIAL_NS = NS_PER_S
LEAST_FOUND = 0.65
#: Round a place where a dot's centre may be, its spot and the ground beside it need so much room.
ROOM_DIAMETERS = 1.5
#: The colour follows the light by this share a picture, as the dots that hold still show it.
COLOUR_GAIN = 0.05


@dataclass(slots=True)
class _Trial:
    """How many dots a new colour finds, until a time."""

    until_ns: int
    n_dots: int = 0
    n_found: int = 0


class DotReader:
    """Puts the dots' centres in the place of the near side's landmarks; a ``dots.PointReader``.

    Until the rider's facing is known (without a given side) frames are left as they are. From then
    on the near side's shoulder, hip, knee, ankle and foot index are the dots' alone: not seen where
    a dot is not found, or while the colour is not known.

    Attributes:
        colour: (3,) L*a*b* of the stickers as last seen; None = not known yet.

    Args:
        colour: ``#rrggbb`` of the stickers; None = learned from the first second with a rider. It
            follows the light, and is learned anew where no dot is seen for a second.
        side: the rider's side that the camera sees; None = told by the rider's facing.

    Raises:
        BadInput: the colour is not written as ``#rrggbb``.
    """

    def __init__(self, colour: str | None = None, side: Side | None = None) -> None:
        self.colour = None if colour is None else dot_colour.parse_colour(colour)
        self._given_side = side
        self._facing = FacingState()
        self._side: Side | None = None
        self._state = DotsState()
        self._candidates: list[Candidate] = []
        self._n_looks = 0
        self._learn_from_ns = 0
        self._seen_ns = 0
        self._trial: _Trial | None = None

    def read(self, picture: TimedPicture, frame: Frame) -> Frame:
        """Return the frame of a picture with its dots; times must rise.

        Args:
            picture: the picture.
            frame: the pose model's landmarks in it.
        """
        if self.colour is None or picture.t_ns - self._seen_ns > RELEARN_NS:
            self._learn(picture, frame)
        side = self._near_side(frame)
        if side is None:
            return frame
        if self.colour is None:
            return dots.with_dots(frame, side, [None] * dot_fit.N_DOTS)
        self._state, expected = dots.expect(self._state, frame, side)
        spots = self._look(picture, expected, self.colour)
        self._state, found = dots.take_in(self._state, frame.t_ns, expected, list(spots))
        self._try_colour(frame.t_ns, found)
        if any(found):
            self._seen_ns, self._n_looks = frame.t_ns, 0
        for spot in found[: dot_colour.STILL_PLACES]:
            if spot is not None and self.colour is not None:
                self.colour = self.colour + COLOUR_GAIN * (spots[spot] - self.colour)
        return dots.with_dots(frame, side, found)

    def _near_side(self, frame: Frame) -> Side | None:
        if self._given_side is not None:
            return self._given_side
        self._facing = vote_facing(self._facing, frame)
        side = near_side(self._facing.facing) if self._facing.facing else None
        if side is not self._side:
            self._side, self._state = side, DotsState()
        return side

    def _look(
        self, picture: TimedPicture, expected: list[Expected], colour: FloatArray
    ) -> dict[Spot, FloatArray]:
        """Return the distinct spots wherever a dot is expected, with the colour of each."""
        area_px = dots.sticker_area_px(self._state)
        diameter_px = math.sqrt(4.0 / math.pi * area_px)
        if not diameter_px > 0:
            return {}
        around = [[one] for one in expected if one.followed]
        around.append([one for one in expected if not one.followed])
        found: dict[Spot, FloatArray] = {}
        for group in around:
            where = _window(picture, group, ROOM_DIAMETERS * diameter_px)
            if where is not None:
                found.update(find_spots(picture.rgb, where, colour, area_px))
        return {spot: found[spot] for spot in dot_fit.distinct(list(found), diameter_px / 2.0)}

    def _learn(self, picture: TimedPicture, frame: Frame) -> None:
        """Collect round spots near one of the dots' places in turn, and decide after a second."""
        thigh_px = dots.longer_thigh_px(frame)
        if not thigh_px > 0:
            return
        if not self._n_looks:
            self._learn_from_ns, self._candidates = picture.t_ns, []
        look, place = divmod(self._n_looks, dot_fit.N_DOTS)
        self._n_looks += 1
        diameter_px, reach_px = dots.STICKER_THIGHS * thigh_px, dots.BESIDE_THIGHS * thigh_px
        for joint in dot_fit.apart(
            [dots.beside(frame, side)[place] for side in Side], reach_px / 2
        ):
            spots = dot_colour.round_spots(picture.rgb, diameter_px, joint, reach_px)
            self._candidates += [Candidate(place, look, spot) for spot in spots]
        if picture.t_ns - self._learn_from_ns >= LEARN_NS:
            learned = dot_colour.common_colour(self._candidates, diameter_px)
            self._n_looks = 0
            if learned is not None:
                self.colour, self._state = learned, DotsState()
                self._trial = _Trial(picture.t_ns + TRIAL_NS)

    def _try_colour(self, t_ns: int, found: list[Spot | None]) -> None:
        """Give a colour up that finds too few dots in its first second."""
        if self._trial is None:
            return
        self._trial.n_dots += len(found)
        self._trial.n_found += sum(spot is not None for spot in found)
        if t_ns >= self._trial.until_ns:
            if self._trial.n_found < LEAST_FOUND * self._trial.n_dots:
                self.colour, self._state = None, DotsState()
            self._trial = None


def _window(picture: TimedPicture, group: list[Expected], margin_px: float) -> Window | None:
    """Return the part of a picture in which all dots of a group may be."""
    places = [(x, y, one.reach_px + margin_px) for one in group for x, y in one.places]
    if not places:
        return None
    return window(
        picture.rgb,
        min(x - reach for x, _, reach in places),
        min(y - reach for _, y, reach in places),
        max(x + reach for x, _, reach in places),
        max(y + reach for _, y, reach in places),
    )
