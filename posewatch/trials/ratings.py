"""What the rider is asked: how it felt, region by region, and which item it may have been.

Regions are where a bike is touched or strains; both scales go from 0 to 10. Comfort and pain are
asked apart: riders report both at once. A numeric scale of 0 to 10 with named ends is common
practice in pain and footwear research. "Not asked" is another thing than 0.
"""

from __future__ import annotations

import math
from enum import StrEnum

from posewatch.errors import BadInput
from posewatch.trials.code_list import CARD_LETTERS
from posewatch.trials.concealment import Guess
from posewatch.trials.plan import Design


class Region(StrEnum):
    """Where."""

    LEFT_SIT_BONE = "left sit bone"
    RIGHT_SIT_BONE = "right sit bone"
    FRONT = "front"
    INNER_THIGHS = "inner thighs"
    HANDS = "hands"
    FEET = "feet"
    NECK = "neck"
    LOW_BACK = "low back"


class Scale(StrEnum):
    """What is rated."""

    COMFORT = "comfort"
    PAIN = "pain"


LEAST, MOST = 0.0, 10.0
#: The named ends of each scale.
ENDS = {
    Scale.COMFORT: ("as uncomfortable as can be", "as comfortable as can be"),
    Scale.PAIN: ("no pain", "as bad as can be"),
}


def require_rating(region: str, scale: str, value: float | None) -> None:
    """Refuse a rating that cannot be; None = not asked.

    Raises:
        BadInput: an unknown region or scale, or a value that is not 0 to 10.
    """
    if region not in tuple(Region):
        raise BadInput(f"'{region}' is no region.", f"Give one of: {', '.join(Region)}.")
    if scale not in tuple(Scale):
        raise BadInput(f"'{scale}' is no scale.", f"Give {' or '.join(Scale)}.")
    if value is not None and (math.isnan(value) or not LEAST <= value <= MOST):
        raise BadInput(f"A rating cannot be {value:g}.", f"Give {LEAST:g} to {MOST:g}.")


def card_letters(design: Design) -> str:
    """Return the letters on the rider's card, one an item."""
    return CARD_LETTERS[: design.n_items]


def require_guess(design: Design, guess: str | None, confidence: int) -> None:
    """Refuse a guess that cannot be; None = the rider does not know.

    Raises:
        BadInput: nothing is concealed, no such letter on the rider's card, or no such confidence.
    """
    if not design.concealment.item_concealed:
        raise BadInput("The items are not concealed.", "There is nothing to guess.")
    Guess("", guess, confidence)
    letters = card_letters(design)
    if guess is not None and guess not in letters:
        raise BadInput(
            f"The rider's card has no {guess}.", f"Its letters are {', '.join(letters)}."
        )
