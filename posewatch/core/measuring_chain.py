"""What shapes the numbers: camera, view, picture, model, libraries, kit."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass, fields
from enum import StrEnum

#: Stands for a camera profile where there is none.
UNCALIBRATED = "uncalibrated"
#: A webcam's measured rate may differ this much from the one at capture (share of the larger).
RATE_TOLERANCE = 0.1
#: A camera set up anew may stand this much otherwise (degrees; share of the larger distance).
VIEW_TOLERANCE_DEG = 2.0
DISTANCE_TOLERANCE = 0.05
SHA256_DIGITS = 64


class PointSource(StrEnum):
    """What a joint is read from: the pose model's landmark, or a sticker dot on the rider."""

    LANDMARKS = "landmarks"
    DOTS = "dots"


@dataclass(frozen=True, slots=True)
class ViewedFrom:
    """A calibrated camera and where it stands, as far as a target depends on it.

    lens: the lens' fingerprint. The bike plane undoes the view's geometry, not what a pose model
    makes of another view: a camera that is set up anew must stand about where it stood.
    """

    lens: str
    yaw_deg: float
    pitch_deg: float
    distance_mm: float

    def is_like(self, other: ViewedFrom) -> bool:
        """Whether a target captured from one view may be watched from the other."""
        nearer, farther = sorted((self.distance_mm, other.distance_mm))
        return (
            self.lens == other.lens
            and abs(self.yaw_deg - other.yaw_deg) <= VIEW_TOLERANCE_DEG
            and abs(self.pitch_deg - other.pitch_deg) <= VIEW_TOLERANCE_DEG
            and farther - nearer <= DISTANCE_TOLERANCE * farther
        )

    def __str__(self) -> str:
        """Say it as a difference between chains is told."""
        return (
            f"lens {self.lens[:6]}, yaw {self.yaw_deg:.1f}, pitch {self.pitch_deg:.1f} deg, "
            f"{self.distance_mm / 1000:.2f} m"
        )


@dataclass(frozen=True, slots=True)
class MeasuringChain:
    """Everything that shapes the numbers; a target fits the chain that captured it, no other.

    camera_profile: the profile's fingerprint, or UNCALIBRATED. view: where a calibrated camera
    stands; two profiles fit if their views are alike. rate_hz is compared with a tolerance, since a
    camera's true rate wanders; kit, the fitter's word for what the rider wears, only where both
    state it (empty = not stated); everything else must be the same. So chains that fit may still
    have different fingerprints.
    """

    camera_profile: str
    width_px: int
    height_px: int
    rate_hz: float
    model_name: str
    model_sha256: str
    pose_library: str
    pose_workers: int
    kit: str = ""
    view: ViewedFrom | None = None
    points: PointSource = PointSource.LANDMARKS

    def fingerprint(self) -> str:
        """Return 16 hex digits that change with any part of the chain (the rate to 1 Hz)."""
        parts = asdict(self) | {"rate_hz": round(self.rate_hz)}
        text = json.dumps(parts, sort_keys=True, separators=(",", ":"))
        return hashlib.sha256(text.encode()).hexdigest()[:16]

    def differences(self, other: MeasuringChain) -> tuple[str, ...]:
        """Name the parts in which two chains differ, as ``part: this / other``."""
        found = []
        for field in fields(self):
            name, mine, theirs = field.name, getattr(self, field.name), getattr(other, field.name)
            if name == "camera_profile":
                continue  # the view says what matters of it
            if name == "rate_hz":
                same = abs(mine - theirs) <= RATE_TOLERANCE * max(mine, theirs)
            elif name == "kit":
                same = not mine or not theirs or mine == theirs
            elif name == "view" and mine is not None and theirs is not None:
                same = mine.is_like(theirs)
            else:
                same = mine == theirs
            if not same:
                found.append(f"{name}: {_short(mine)} / {_short(theirs)}")
        return tuple(found)


def _short(value: object) -> str:
    """Return a value as people compare it: a rate in tenths, of a digest only the beginning."""
    if value is None:
        return UNCALIBRATED
    text = f"{value:.1f}" if isinstance(value, float) else str(value)
    return f"{text[:12]}..." if len(text) == SHA256_DIGITS else text
