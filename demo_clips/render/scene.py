"""What a clip shows: who, where, from which side, and what happens when."""

from __future__ import annotations

from dataclasses import dataclass, field

from demo_clips.render.camera import SideCamera
from demo_clips.render.kit import RIDER_KIT, Kit
from demo_clips.render.light import SOFT, Light
from demo_clips.render.rider import Fit

CRANK_STEPS_PER_S = 300  # in which the crank's speed is summed up; a whole number a frame


@dataclass(frozen=True)
class Event:
    """A change of the rider's posture or pedalling that comes, stays and goes smoothly.

    Attributes:
        name: what the truth file calls it; empty = not mentioned there.
        start_s: when it begins.
        rise_s: how long it takes to come.
        hold_s: how long it stays in full; None = to the end of the clip.
        fall_s: how long it takes to go.
        torso_deg: added to the torso angle.
        hip_forward_mm: hips moved in the direction of travel.
        hip_up_mm: hips moved up.
        foot_pitch_deg: toes further down.
        into_drops: share of the way from hoods to drops, 0 to 1.
        near_hand_to_mouth: share of the way of the camera-side hand, 0 to 1.
        near_hand_to_hip: the same, to a rest on the hip, the forearm before the hip joint.
        crank_rpm: cadence instead of the scene's; negative = backwards.
    """

    name: str
    start_s: float
    rise_s: float
    hold_s: float | None
    fall_s: float = 0.0
    torso_deg: float = 0.0
    hip_forward_mm: float = 0.0
    hip_up_mm: float = 0.0
    foot_pitch_deg: float = 0.0
    into_drops: float = 0.0
    near_hand_to_mouth: float = 0.0
    near_hand_to_hip: float = 0.0
    crank_rpm: float | None = None

    @property
    def end_s(self) -> float:
        """When it is over; for one that stays, when it has come in full."""
        if self.hold_s is None:
            return self.start_s + self.rise_s
        return self.start_s + self.rise_s + self.hold_s + self.fall_s

    def level(self, time_s: float) -> float:
        """How far it has come at a time, 0 to 1, with smooth starts and ends."""
        risen = smooth_step((time_s - self.start_s) / self.rise_s)
        if self.hold_s is None:
            return risen
        fallen = smooth_step((time_s - self.end_s + self.fall_s) / self.fall_s)
        return risen - fallen


def smooth_step(share: float) -> float:
    """0 below 0, 1 above 1, and a cubic with level ends between."""
    share = min(max(share, 0.0), 1.0)
    return share * share * (3 - 2 * share)


@dataclass(frozen=True)
class Scene:
    """One clip.

    Attributes:
        name: file name without ending.
        duration_s: length.
        seed: of all natural variation.
        cadence_rpm: (time in s, rpm) points joined smoothly.
        about: one line for people.
        camera: where it is seen from.
        frames_per_s: of the clip; has to divide CRANK_STEPS_PER_S.
        hands: "hoods" or "drops", before any event.
        saddle_mm: saddle and hips moved up along the seat tube.
        has_rider: False for a parked bike.
        kit: the rider's clothes.
        has_dots: True = round stickers on the camera-side joints and pedal.
        light: of the room.
        walker_s: (from, to) times at which a second person crosses behind, or None.
        has_bystander: True = a second person stands behind the bike, hands on saddle and bar.
        has_poster: True = a poster of a cyclist hangs on the wall.
        has_screen: True = a board stands before the bike and hides the legs.
        events: what happens.
        fit: how the rider is set up.
    """

    name: str
    duration_s: float
    seed: int
    cadence_rpm: tuple[tuple[float, float], ...]
    about: str
    camera: SideCamera = field(default_factory=lambda: SideCamera("R"))
    frames_per_s: int = 30
    hands: str = "hoods"
    saddle_mm: float = 0.0
    has_rider: bool = True
    kit: Kit = RIDER_KIT
    has_dots: bool = False
    light: Light = SOFT
    walker_s: tuple[float, float] | None = None
    has_bystander: bool = False
    has_poster: bool = False
    has_screen: bool = False
    events: tuple[Event, ...] = ()
    fit: Fit = field(default_factory=Fit)

    def __post_init__(self) -> None:
        if CRANK_STEPS_PER_S % self.frames_per_s:
            raise ValueError(
                f"{self.name}: {self.frames_per_s} frames a second do not divide "
                f"{CRANK_STEPS_PER_S}; take 25, 30, 50 or 60."
            )

    @property
    def frame_count(self) -> int:
        """Frames of the clip."""
        return round(self.duration_s * self.frames_per_s)

    def event_at(self, time_s: float) -> str:
        """Names of the events under way; empty when none."""
        names = [e.name for e in self.events if e.name and e.start_s <= time_s < e.end_s]
        if self.walker_s is not None and self.walker_s[0] <= time_s < self.walker_s[1]:
            names.append("someone walks behind")
        return ", ".join(names)
