"""What follows from the kind of comparison: outcomes, what is logged, and the mounting check list.

Reference points are named so that two people measure the same thing. They, the times and the choice
of lines are practice of the trade, not a standard.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from posewatch.core.records import Channel
from posewatch.trials.words import ComparisonKind, SaddleMode


class Entry(StrEnum):
    """What is entered on a line of the check list; any line may be skipped with a reason."""

    TICK = "tick"
    NUMBER = "number"
    TEXT = "text"


@dataclass(frozen=True, slots=True)
class CheckLine:
    """One line of the mounting check list.

    key: stays the same from version to version. text: what is done or measured, and from where to
    where. unit: of a number, else empty.
    """

    key: str
    text: str
    entry: Entry = Entry.TICK
    unit: str = ""


@dataclass(frozen=True, slots=True)
class KindDefaults:
    """What a kind of comparison brings with it.

    outcomes: channels that the item itself may move, so that they are results and never required.
    saddle_untouched: nothing of the saddle is loosened between mountings. stack_height_logged:
    whether the height between pedal axle and foot is entered. work_s: mounting with its check
    list, an assumption for the expected duration.
    """

    outcomes: tuple[Channel, ...]
    saddle_untouched: bool
    stack_height_logged: bool
    work_s: float
    check_list: tuple[CheckLine, ...]


def _number(key: str, text: str, unit: str) -> CheckLine:
    return CheckLine(key, text, Entry.NUMBER, unit)


_SHORTS = (
    CheckLine("pad_square", "Pad centred and square: its middle seam on the body's middle line"),
    CheckLine("straps_untwisted", "Shoulder straps flat, not twisted"),
    CheckLine("seams_flat", "Seams and leg grippers flat, no fold under the sit bones"),
    CheckLine("same_underlayer", "Same top as before; nothing else under the shorts; same cream"),
)
_SADDLE_UNTOUCHED = (
    CheckLine(
        "saddle_untouched", "Saddle and seat post untouched: the marks on post and rails line up"
    ),
)
_SADDLE_PLACE = (
    _number(
        "saddle_height",
        "Saddle height: middle of the crank axle to the saddle's top where it is 80 mm wide, "
        "straight",
        "mm",
    ),
    _number(
        "saddle_setback",
        "Setback: level distance from the crank axle back to where the saddle is 80 mm wide",
        "mm",
    ),
    _number(
        "saddle_tilt",
        "Tilt: straight edge laid along the middle from the rear edge to the nose; nose up is "
        "positive",
        "deg",
    ),
)
_SADDLE_CLAMP = (
    CheckLine("nose_straight", "Nose straight: in line with the top tube, sighted from behind"),
    _number("saddle_clamp_torque", "Saddle clamp bolts tightened to, by torque wrench", "N m"),
)
_MAT = (
    CheckLine("mat_centred", "Mat: its middle line on the saddle's middle line"),
    _number("mat_rear_edge", "Mat: its rear edge in front of the saddle's rear edge by", "mm"),
    CheckLine("mat_taut", "Mat: taut, no fold, leads clear of crank and thighs"),
    _number("mat_zero", "Mat: largest reading unloaded", "kPa"),
    _number("mat_check_weight", "Mat: mean reading under the check weight", "kPa"),
)
_FEET = (
    CheckLine("insole_seated", "Insoles flat, against the heel, no edge turned up"),
    _number(
        "stack_height_left",
        "Stack height, left: middle of the pedal axle to the top of the insole above it",
        "mm",
    ),
    _number(
        "stack_height_right",
        "Stack height, right: middle of the pedal axle to the top of the insole above it",
        "mm",
    ),
    _number("cleat_left", "Cleat, left: its middle behind the ball of the foot by", "mm"),
    _number("cleat_right", "Cleat, right: its middle behind the ball of the foot by", "mm"),
    CheckLine("closure_alike", "Shoes closed to the same marks; same socks"),
)
_SAME_SHOES = (CheckLine("same_shoes", "Same shoes, closed alike; cleats at their marks"),)
_BAR = (
    _number(
        "bar_reach",
        "Reach: level distance from where the saddle is 80 mm wide to the middle of the bar at "
        "the stem",
        "mm",
    ),
    _number(
        "bar_drop",
        "Drop: where the saddle is 80 mm wide down to the middle of the bar at the stem; bar "
        "higher is negative",
        "mm",
    ),
    _number(
        "bar_rotation", "Rotation: end of the drops against level; front up is positive", "deg"
    ),
    CheckLine("hoods_alike", "Hoods level with each other and at their marks"),
    _number("bar_thickness", "Thickness over the tape where the hand lies: bar across", "mm"),
    _number("stem_clamp_torque", "Stem clamp bolts tightened to, by torque wrench", "N m"),
)
_OTHER = (
    CheckLine("item_place", "Item fitted: where it sits, measured from where", Entry.TEXT),
    CheckLine("item_fixed", "Item fixed so that it cannot move; bolts by torque wrench"),
)
_ROOM = (
    CheckLine("axle_clamped", "Axle clamped in the trainer, front wheel straight and level"),
    _number("tyre_pressure", "Tyre pressure, rear (skip where no tyre drives)", "bar"),
    CheckLine("fan_alike", "Fan on, at its mark and setting"),
    _number("room_temperature", "Room temperature at the rider's height", "deg C"),
)

_KINDS = {
    ComparisonKind.SHORTS: KindDefaults(
        outcomes=(Channel.PELVIS_HEIGHT,),
        saddle_untouched=True,
        stack_height_logged=False,
        work_s=300.0,
        check_list=_SHORTS + _SADDLE_UNTOUCHED + _MAT + _SAME_SHOES + _ROOM,
    ),
    ComparisonKind.INSOLES_AND_SHOES: KindDefaults(
        outcomes=(),
        saddle_untouched=True,
        stack_height_logged=True,
        work_s=300.0,
        check_list=_FEET + _SADDLE_UNTOUCHED + _ROOM,
    ),
    ComparisonKind.BAR: KindDefaults(
        outcomes=(),
        saddle_untouched=True,
        stack_height_logged=False,
        work_s=900.0,
        check_list=_BAR + _SADDLE_UNTOUCHED + _SAME_SHOES + _ROOM,
    ),
    ComparisonKind.OTHER: KindDefaults(
        outcomes=(),
        saddle_untouched=False,
        stack_height_logged=False,
        work_s=300.0,
        check_list=_OTHER + _SADDLE_PLACE + _SADDLE_CLAMP + _MAT + _SAME_SHOES + _ROOM,
    ),
}
_SADDLE_WORK_S = 480.0
_SADDLES = {
    SaddleMode.RESET: KindDefaults(
        outcomes=(),
        saddle_untouched=False,
        stack_height_logged=False,
        work_s=_SADDLE_WORK_S,
        check_list=(
            CheckLine("saddle_reset", "Height, setback and tilt set to the planned figures"),
            *_SADDLE_PLACE,
            *_SADDLE_CLAMP,
            *_MAT,
            *_SAME_SHOES,
            *_ROOM,
        ),
    ),
    SaddleMode.SWAP: KindDefaults(
        outcomes=(Channel.SITTING_PLACE, Channel.PELVIS_HEIGHT),
        saddle_untouched=False,
        stack_height_logged=False,
        work_s=_SADDLE_WORK_S,
        check_list=(
            CheckLine(
                "saddle_swapped", "Seat post at its mark; rails clamped at their middle marks"
            ),
            *_SADDLE_PLACE,
            *_SADDLE_CLAMP,
            *_MAT,
            *_SAME_SHOES,
            *_ROOM,
        ),
    ),
}


def kind_defaults(kind: ComparisonKind, saddle_mode: SaddleMode | None = None) -> KindDefaults:
    """Return what a kind brings with it; saddle_mode is needed for saddles only.

    Raises:
        ValueError: saddles, without saying how they are compared.
    """
    if kind is not ComparisonKind.SADDLE:
        return _KINDS[kind]
    if saddle_mode is None:
        raise ValueError("saddles are compared re-set or as they come: say which")
    return _SADDLES[saddle_mode]
