"""Why a joint is not believed."""

from __future__ import annotations

from enum import IntEnum


class Doubt(IntEnum):
    """One refusal; NONE = believed. Stored in arrays of uint8."""

    NONE = 0
    NOBODY = 1
    NOT_VISIBLE = 2
    OFF_PICTURE = 3
    CUT_OFF = 4
    OTHER_WAY = 5
    LENGTH = 6
    TOO_FAST = 7
    OFF_REGION = 8
    NOT_PEDALLING = 9
    BEHIND_ARM = 10
    AT_AN_ANGLE = 11

    @property
    def words(self) -> str:
        """Say it to a person."""
        return WORDS[self]


WORDS = {
    Doubt.NONE: "",
    Doubt.NOBODY: "nobody is found",
    Doubt.NOT_VISIBLE: "hidden or not made out",
    Doubt.OFF_PICTURE: "outside the picture",
    Doubt.CUT_OFF: "the picture's edge cuts off the body",
    Doubt.OTHER_WAY: "faces against the bike's direction",
    Doubt.LENGTH: "not as long as this rider's",
    Doubt.TOO_FAST: "moved faster than a body does",
    Doubt.OFF_REGION: "not where the rider sits",
    Doubt.NOT_PEDALLING: "the ankle does not fit the crank's turning",
    Doubt.BEHIND_ARM: "behind the arm",
    Doubt.AT_AN_ANGLE: "seen from the front or the back, not from the side",
}
