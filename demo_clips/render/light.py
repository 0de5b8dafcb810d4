"""The light of the room."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Light:
    """One distant lamp and the light of the room.

    Attributes:
        towards: direction to the lamp for a camera on the right side.
        key: colour of the lamp.
        sky: light of the room from above.
        ground: light of the room from below.
    """

    towards: tuple[float, float, float]
    key: tuple[float, float, float]
    sky: tuple[float, float, float]
    ground: tuple[float, float, float]


SOFT = Light((-0.35, 0.75, 0.75), (0.75, 0.72, 0.68), (0.55, 0.57, 0.60), (0.30, 0.28, 0.26))
DIM = Light((-0.30, 0.80, 0.60), (0.22, 0.20, 0.18), (0.10, 0.10, 0.11), (0.06, 0.055, 0.05))
