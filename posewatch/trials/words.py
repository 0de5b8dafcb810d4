"""The words of a comparison that its plan, its conduct and its report share."""

from __future__ import annotations

from enum import StrEnum

#: So few items can be compared, and so many: more mountings than eight take nobody sits through.
FEWEST_ITEMS, MOST_ITEMS = 2, 8


class ComparisonKind(StrEnum):
    """What is compared; :mod:`posewatch.trials.kinds` says what follows from it."""

    SHORTS = "shorts"
    SADDLE = "saddle"
    INSOLES_AND_SHOES = "insoles and shoes"
    BAR = "bar"
    OTHER = "other"


class SaddleMode(StrEnum):
    """What a comparison of saddles is a comparison of; the two answer different questions.

    RESET: height, setback and tilt are set to the same figures on every saddle. SWAP: a saddle
    goes onto the same post and clamp and stands as it then stands.
    """

    RESET = "re-set to the same position"
    SWAP = "swap as it comes"


class ConcealmentLevel(StrEnum):
    """Who is kept from knowing what; each level includes those before it.

    READINGS_HIDDEN: the rider sees no outcome. ITEM_COVERED: nor which item is mounted.
    OPERATOR_BLIND: nor does the operator know; somebody else mounts.
    """

    READINGS_HIDDEN = "readings hidden"
    ITEM_COVERED = "item covered"
    OPERATOR_BLIND = "operator blind too"

    @property
    def item_concealed(self) -> bool:
        """Whether the rider is not to know which item it is, so that a guess can be asked for."""
        return self is not ConcealmentLevel.READINGS_HIDDEN


class OrderKind(StrEnum):
    """How the order of the items is made; see :mod:`posewatch.trials.orders`."""

    REVERSED_PAIRS = "reversed pairs"
    WILLIAMS = "Williams squares"
    RANDOMISED_BLOCKS = "randomised blocks"


class Stamp(StrEnum):
    """What an answer of this plan may be called."""

    INDICATION_ONLY = "indication only"
    FULL_ANSWER = "full answer"


def item_words(slot: int) -> str:
    """Return what people read of a slot: numbers from 1, never a name."""
    return f"item {slot + 1}"


class RitualMoment(StrEnum):
    """The steps of the reset at the beginning of each trial, always these and in this order.

    A fresh sit, foam off load, a pressure mat's zero; and camera and mat both see the rider stand.
    """

    COAST = "coast"
    STAND = "stand 8 s"
    SIT = "sit"
    HANDS_ON = "hands on"
    PEDAL = "pedal"


RITUAL = tuple(RitualMoment)
#: How long each step lasts, s, at every trial alike; but for the standing, practice of the trade.
RITUAL_S = {
    RitualMoment.COAST: 3.0,
    RitualMoment.STAND: 8.0,
    RitualMoment.SIT: 2.0,
    RitualMoment.HANDS_ON: 2.0,
    RitualMoment.PEDAL: 0.0,
}
