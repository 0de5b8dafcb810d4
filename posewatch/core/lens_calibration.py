"""What a lens calibration found, and how far it can be trusted."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from posewatch.core.plane import Lens

#: Fewer views than this still calibrate; more make the numbers steadier.
GOOD_VIEWS = 15
#: Leftover of a sound calibration with printed boards; more means a bent board or wrong views.
RMS_TOLD_PX = 0.6
#: A focal length that is this uncertain is told: distances go wrong by the same share.
FOCAL_SD_TOLD = 0.005


class Refusal(StrEnum):
    """Why a picture is of no use."""

    NO_PICTURE = "not readable as a picture"
    OTHER_SIZE = "of another size than most"
    NO_BOARD = "no board found"
    OTHER_BOARD = "another board"
    FEW_CORNERS = "too few corners"
    BLURRED = "blurred"
    NOT_FLAT = "no picture of a flat board"
    SAME = "nearly the same as another"
    UNLIKE = "does not fit the others"


@dataclass(frozen=True, slots=True)
class RejectedView:
    """A picture that was not used, and why."""

    name: str
    refusal: Refusal
    detail: str = ""

    @property
    def reason(self) -> str:
        """The refusal with its detail."""
        return f"{self.refusal} ({self.detail})" if self.detail else str(self.refusal)


@dataclass(frozen=True, slots=True)
class LensSpread:
    """Standard deviations from the leftovers, px: of the focal lengths and the principal point."""

    fx_px: float
    fy_px: float
    cx_px: float
    cy_px: float


@dataclass(frozen=True, slots=True)
class LensCalibration:
    """A calibrated lens.

    rms_px: leftover distance between corners seen and computed. coverage: share of the picture's
    cells in which a corner was seen. tilt_range_deg, lean_range_deg: how far the board was turned
    about the upright and about the level, least and most. board: its name; bar_mm: its bar.
    """

    lens: Lens
    rms_px: float
    spread: LensSpread
    n_views: int
    n_corners: int
    coverage: float
    tilt_range_deg: tuple[float, float]
    lean_range_deg: tuple[float, float]
    rejected: tuple[RejectedView, ...]
    board: str
    bar_mm: float


def field_of_view_deg(lens: Lens) -> tuple[float, float]:
    """Return how much the lens sees across and up, without its distortion."""
    across = math.atan(lens.cx_px / lens.fx_px) + math.atan(
        (lens.width_px - lens.cx_px) / lens.fx_px
    )
    up = math.atan(lens.cy_px / lens.fy_px) + math.atan((lens.height_px - lens.cy_px) / lens.fy_px)
    return math.degrees(across), math.degrees(up)


def lens_advice(found: LensCalibration) -> list[str]:
    """Return what to know or to do about a calibration, a sentence each; none = it is sound."""
    advice = []
    if found.rms_px > RMS_TOLD_PX:
        advice.append(
            f"the corners are left {found.rms_px:.2f} px off (up to {RMS_TOLD_PX:g} is usual): "
            "glue the board flat, hold it still, and lock the focus"
        )
    share = found.spread.fx_px / found.lens.fx_px
    if share > FOCAL_SD_TOLD:
        advice.append(
            f"the focal length is only known to {100 * share:.1f} %, and so are distances: add "
            "views with the board tilted by 30 to 40 degrees, near and far"
        )
    if found.n_views < GOOD_VIEWS:
        advice.append(f"{found.n_views} views were used; {GOOD_VIEWS} to 25 are better")
    return advice
