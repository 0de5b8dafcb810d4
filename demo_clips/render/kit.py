"""What a person wears: the cut and the colours of the clothes."""

from __future__ import annotations

from dataclasses import dataclass, replace

LINER_SHARE = 0.5  # tight shorts under loose ones, down the thigh


@dataclass(frozen=True)
class Kit:
    """Colours ("#rrggbb") and cut of the clothes.

    Attributes:
        shorts_pattern: colour of the zigzag bands on the shorts; None = plain.
        sleeve_share: how far the sleeve covers the upper arm.
        leg_share: how far the shorts cover the leg: 1 = to the knee, 2 = to the ankle.
        hem_m: front hem of the jersey above the hip joints of the standing body.
        tail_m: how much lower its hem is behind.
        jersey_ease_m: how far the jersey can be pulled off the body; 0 = tight.
        shorts_ease_m: the same of the shorts, which then have tight ones under them.
        leg_folds_m: height of the folds behind knee and ankle in long legs.
        has_thigh_pocket: a pocket with a phone on the outside of each thigh.
    """

    jersey: str = "#1f66b0"
    shorts: str = "#16181c"
    shorts_pattern: str | None = None
    socks: str = "#f2f2f2"
    shoes: str = "#e9e9ea"
    skin: str = "#c98f6d"
    hair: str = "#2b1d14"
    helmet: str | None = "#f4f4f4"
    sleeve_share: float = 0.72
    leg_share: float = 0.80
    hem_m: float = 0.035
    tail_m: float = 0.0
    jersey_ease_m: float = 0.0
    shorts_ease_m: float = 0.0
    leg_folds_m: float = 0.0
    has_thigh_pocket: bool = False

    def under(self) -> Kit:
        """What lies tight on the body."""
        return replace(self, leg_share=LINER_SHARE) if self.shorts_ease_m else self


RIDER_KIT = Kit()
DARK_KIT = Kit(jersey="#23252b", shorts="#141519", socks="#2a2b30", helmet="#3a3c42")
LIGHT_SHORTS = replace(RIDER_KIT, shorts="#d6d8d4")
PATTERNED_SHORTS = replace(
    RIDER_KIT, shorts="#28365e", shorts_pattern="#79c7c0", has_thigh_pocket=True
)
LONG_TIGHTS = replace(RIDER_KIT, shorts="#20242e", leg_share=1.93, leg_folds_m=0.0022)
LOOSE_SHORTS = replace(RIDER_KIT, shorts="#5b6147", leg_share=0.89, shorts_ease_m=0.036)
OTHER_JERSEY = replace(
    RIDER_KIT,
    jersey="#e3bd2b",
    sleeve_share=0.86,
    hem_m=0.015,
    tail_m=0.065,
    jersey_ease_m=0.022,
)
WALKER_KIT = Kit(
    jersey="#7d4f9e",
    shorts="#3d4f6b",
    socks="#3d4f6b",
    shoes="#5a3d28",
    hair="#5b3a1e",
    helmet=None,
    sleeve_share=1.7,
    leg_share=1.97,
)
