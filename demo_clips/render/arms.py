"""Arms and hands: from a shoulder and a wrist place to the rotations of every bone between."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from demo_clips.render.body import Body
from demo_clips.render.skeleton import carry, part_way, reach, turn, unit

Array = NDArray[np.float64]

FINGER_CURL_DEG = {"1": 38.0, "2": 82.0, "3": 115.0}
THUMB_CURL_DEG = {"2": 15.0, "3": 30.0}
FOREARM_TWIST_SHARE = 0.35  # how much of the hand's turn the skin of the forearm follows


@dataclass(frozen=True)
class Hand:
    """Where a hand is and how it is held; directions are (3,) and need not have length one.

    Attributes:
        wrist_m: (3,) the wrist joint.
        elbow_towards: where the elbow points.
        knuckles_towards: from wrist to knuckles.
        thumb_towards: to the thumb side of the hand.
        curl: 0 = flat hand, 1 = fingers closed round a bar.
    """

    wrist_m: Array
    elbow_towards: Array
    knuckles_towards: Array
    thumb_towards: Array
    curl: float = 1.0

    def shifted(self, shift_m: Array) -> Hand:
        """The hand moved as it is."""
        return replace(self, wrist_m=self.wrist_m + shift_m)

    def mixed(self, other: Hand, share: float) -> Hand:
        """The hand a share (0 to 1) of the way to another."""

        def mix(start: Array, end: Array) -> Array:
            between: Array = start + (end - start) * share
            return between

        return Hand(
            mix(self.wrist_m, other.wrist_m),
            mix(self.elbow_towards, other.elbow_towards),
            mix(self.knuckles_towards, other.knuckles_towards),
            mix(self.thumb_towards, other.thumb_towards),
            self.curl + (other.curl - self.curl) * share,
        )


def _without_bend(rotation: Array, rest_along: Array, along: Array) -> Array:
    """The rotation turned the short way so that the bone lies along ``along``: twist only."""
    bent = unit(rotation @ rest_along)
    wanted = unit(along)
    axis = np.cross(bent, wanted)
    size = float(np.linalg.norm(axis))
    if size < 1e-9:
        return rotation
    straight: Array = turn(axis / size, float(np.degrees(np.arctan2(size, bent @ wanted))))
    return straight @ rotation


def _fingers(body: Body, side: str, hand: Array, curl: float) -> dict[str, Array]:
    """Curl the fingers towards the palm; ``curl`` 1 closes them round a bar."""
    rest = body.joints_m
    knuckle = rest[f"finger3-1.{side}"] - rest[f"wrist.{side}"]
    bend = rest[f"finger3-3.{side}"] - rest[f"finger3-2.{side}"]
    palm = hand @ unit(bend - unit(knuckle) * (bend @ unit(knuckle)))
    axis = unit(np.cross(hand @ unit(knuckle), palm))
    turned = {}
    for joint, angle_deg in FINGER_CURL_DEG.items():
        for finger in range(2, 6):
            turned[f"finger{finger}-{joint}.{side}"] = turn(axis, angle_deg * curl) @ hand
    for joint, angle_deg in THUMB_CURL_DEG.items():
        turned[f"finger1-{joint}.{side}"] = turn(axis, angle_deg * curl) @ hand
    return turned


def arm_rotations(body: Body, side: str, shoulder_m: Array, hand: Hand) -> dict[str, Array]:
    """Rotations of one arm ("R" or "L") from its posed shoulder joint (3,) to the finger tips."""
    rest = body.joints_m
    upper_rest = rest[f"lowerarm01.{side}"] - rest[f"upperarm01.{side}"]
    lower_rest = rest[f"wrist.{side}"] - rest[f"lowerarm01.{side}"]
    lengths = float(np.linalg.norm(upper_rest)), float(np.linalg.norm(lower_rest))
    elbow = reach(shoulder_m, hand.wrist_m, *lengths, hand.elbow_towards)
    upper, lower = elbow - shoulder_m, hand.wrist_m - elbow
    hinge_rest, hinge = np.cross(upper_rest, lower_rest), np.cross(upper, lower)
    forearm = carry(lower_rest, hinge_rest, lower, hinge)
    palm = carry(
        rest[f"finger3-1.{side}"] - rest[f"wrist.{side}"],
        rest[f"finger2-1.{side}"] - rest[f"finger5-1.{side}"],
        hand.knuckles_towards,
        hand.thumb_towards,
    )
    twisted = part_way(forearm, palm, FOREARM_TWIST_SHARE)
    return {
        f"upperarm01.{side}": carry(upper_rest, hinge_rest, upper, hinge),
        f"lowerarm01.{side}": forearm,
        f"lowerarm02.{side}": _without_bend(twisted, lower_rest, lower),
        f"wrist.{side}": palm,
        **_fingers(body, side, palm, hand.curl),
    }
