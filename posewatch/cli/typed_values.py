"""Values typed after an option: all of a group, a point, joints with their depths."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

from posewatch.errors import BadInput

if TYPE_CHECKING:
    from posewatch.core.plane import JointDepths

#: No joint of a rider is further off the bike's middle plane.
MOST_DEPTH_MM = 500.0

T = TypeVar("T")


def all_given(values: dict[str, T | None], otherwise: str) -> dict[str, T]:
    """Return the values of options, none of which may be missing.

    otherwise: what may be given instead of them all, for the message.

    Raises:
        BadInput: names those that are missing.
    """
    missing = [option for option, value in values.items() if value is None]
    if missing:
        raise BadInput(f"Not given: {', '.join(missing)}.", f"Give {', '.join(values)}{otherwise}.")
    return {option: value for option, value in values.items() if value is not None}


def point(option: str, text: str) -> tuple[float, float]:
    """Read ``x,y``.

    Raises:
        BadInput: it is not two numbers.
    """
    try:
        x, y = (float(part) for part in text.split(","))
    except ValueError as error:
        raise BadInput(
            f"{option} cannot be {text!r}.",
            "Give x and y in px from the picture's top left corner, e.g. 412.5,388.",
        ) from error
    return x, y


def joint_depths(text: str) -> JointDepths:
    """Read ``joint=mm,joint=mm``; joints that are not named keep their defaults.

    Raises:
        BadInput: no joint, or no depth that a rider's joint has.
    """
    from dataclasses import fields, replace

    from posewatch.core.plane import JointDepths

    names = [field.name for field in fields(JointDepths)]
    given = {}
    for part in filter(None, text.split(",")):
        name, _, value = part.strip().partition("=")
        try:
            depth_mm = float(value)
        except ValueError:
            depth_mm = -1.0
        if name not in names or not 0 <= depth_mm <= MOST_DEPTH_MM:
            raise BadInput(
                f"{part.strip()!r} is no joint's depth.",
                f"Give JOINT=MM with 0 to {MOST_DEPTH_MM:g} mm; joints are {', '.join(names)}.",
            )
        given[name] = depth_mm
    return replace(JointDepths(), **given)
