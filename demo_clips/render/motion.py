"""How the rider moves: crank turning, natural variation, and the events of the scene."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import gaussian_filter1d

from demo_clips.render.arms import Hand
from demo_clips.render.bike import seat_tube_direction
from demo_clips.render.rider import SIDES, Posture, Rider
from demo_clips.render.scene import CRANK_STEPS_PER_S, Scene

Array = NDArray[np.float64]

PARKED_CRANK_DEG = 60.0
DROPS_TORSO_DEG = -9.0
SADDLE_TORSO_DEG_PER_MM = -0.07  # hands stay, so a higher saddle lowers the torso
HANDS_OUTWARD_M = 0.035  # on the way between hoods and drops, round the bar
HAND_ROUND_KNEE_M = 0.09  # outward on the way between the bar and the hip


def smooth_noise(draw: np.random.Generator, count: int, step_s: float, over_s: float) -> Array:
    """(count,) random values of standard deviation 1 that change over about ``over_s`` seconds."""
    width = over_s / step_s
    margin = int(np.ceil(4 * width))
    white = draw.standard_normal(count + 2 * margin)
    # A Gaussian kernel of this width leaves white noise with this standard deviation.
    scale = 1 / np.sqrt(2 * np.sqrt(np.pi) * width)
    smooth: Array = gaussian_filter1d(white, width)[margin : margin + count] / scale
    return smooth


class Motion:
    """Every frame's posture of one scene; the same seed gives the same motion."""

    def __init__(self, scene: Scene, rider: Rider) -> None:
        self.scene = scene
        self.rider = rider
        draw = np.random.default_rng(scene.seed)
        self.time_s = np.arange(scene.frame_count) / scene.frames_per_s
        self.near_crank_deg = self._crank(draw)
        self._variation = self._vary(draw)

    @property
    def right_crank_deg(self) -> Array:
        """(frames,) right crank; it is half a turn from the camera-side one on left-side clips."""
        return self.near_crank_deg + (0.0 if self.scene.camera.side == "R" else 180.0)

    def _crank(self, draw: np.random.Generator) -> Array:
        """(frames,) camera-side crank angle, not wrapped: cadence integrated over time.

        Cadence varies from stroke to stroke, and within a stroke the crank runs a little faster
        while a pedal goes down.
        """
        scene = self.scene
        count = scene.frame_count
        if not scene.cadence_rpm:
            return np.full(count, PARKED_CRANK_DEG)
        steps_per_frame = CRANK_STEPS_PER_S // scene.frames_per_s
        step_s = 1 / scene.frames_per_s / steps_per_frame
        steps = count * steps_per_frame
        time_s = np.arange(steps) * step_s
        rpm = PchipInterpolator(*np.array(scene.cadence_rpm).T)(time_s)
        rpm *= 1 + 0.011 * smooth_noise(draw, steps, step_s, 0.4)
        rpm *= 1 + 0.006 * smooth_noise(draw, steps, step_s, 3.0)
        for event in scene.events:
            if event.crank_rpm is not None:
                level = np.array([event.level(time) for time in time_s])
                rpm += level * (event.crank_rpm - rpm)
        lag, sway = draw.uniform(-0.3, 0.3, 2)
        angle = np.empty(steps)
        angle[0] = draw.uniform(0, 2 * np.pi)
        for step in range(1, steps):
            now = angle[step - 1]
            uneven = 1 - 0.025 * np.cos(2 * now + lag) + 0.008 * np.cos(now + sway)
            angle[step] = now + rpm[step - 1] * 2 * np.pi / 60 * step_s * uneven
        near: Array = np.degrees(angle[::steps_per_frame])
        return near

    def _vary(self, draw: np.random.Generator) -> dict[str, Array]:
        """Natural variation of each posture number, (frames,) or (frames, 3)."""
        count = self.scene.frame_count

        def noise(spread: float, over_s: float) -> Array:
            return spread * smooth_noise(draw, count, 1 / self.scene.frames_per_s, over_s)

        crank = np.radians(self.right_crank_deg)

        def rocking(size: float, per_turn: int) -> Array:
            wave: Array = size * np.cos(per_turn * crank + draw.uniform(0, 2 * np.pi))
            return wave

        varied = {
            "torso_deg": noise(0.42, 0.6) + noise(0.2, 5.0) + rocking(0.4, 2) + rocking(0.15, 1),
            "hip_forward_m": noise(0.0010, 0.8) + noise(0.0010, 6.0) + rocking(0.0018, 2),
            "hip_up_m": noise(0.0007, 0.8) + noise(0.0005, 6.0) + rocking(0.0015, 2),
            "tilt_deg": noise(0.3, 1.0) - 1.5 * np.cos(crank),
            "foot_pitch_deg": noise(0.9, 1.0),
            "foot_swing_deg": noise(0.7, 1.5),
            "head_lean_deg": noise(1.5, 1.5),
        }
        for side in SIDES:
            varied[f"wrist_{side}_m"] = np.stack(
                [noise(0.0010, 0.5) + noise(0.0008, 4.0) + rocking(0.0007, 2) for _ in range(3)],
                axis=1,
            )
        return varied

    def _hand(self, side: str, frame: int) -> Hand:
        """One hand: on the hoods, in the drops, at the mouth, on the hip, or on the way."""
        time_s = float(self.time_s[frame])
        rider, events = self.rider, self.scene.events
        drops = self.drops_level(time_s)
        hand = rider.hoods_hand(side).mixed(rider.drops_hand(side), drops)
        outward = HANDS_OUTWARD_M * 4 * drops * (1 - drops) * SIDES[side]
        hand = hand.shifted(self._variation[f"wrist_{side}_m"][frame] + [0.0, 0.0, outward])
        if side == self.scene.camera.side:
            lifted = sum(event.near_hand_to_mouth * event.level(time_s) for event in events)
            hand = hand.mixed(rider.drinking_hand(side), lifted)
            back = sum(event.near_hand_to_hip * event.level(time_s) for event in events)
            round_knee = HAND_ROUND_KNEE_M * 4 * back * (1 - back) * SIDES[side]
            hand = hand.mixed(rider.resting_hand(side), back)
            hand = hand.shifted(np.array([0.0, 0.0, round_knee]))
        return hand

    def drops_level(self, time_s: float) -> float:
        """How far the hands are in the drops, 0 to 1."""
        start = 1.0 if self.scene.hands == "drops" else 0.0
        return start + sum((e.into_drops * e.level(time_s) for e in self.scene.events), 0.0)

    def posture(self, frame: int) -> Posture:
        """The rider's posture in one frame."""
        scene, rider, varied = self.scene, self.rider, self._variation
        time_s = float(self.time_s[frame])
        levels = [(event, event.level(time_s)) for event in scene.events]

        def changed(attribute: str) -> float:
            return sum((float(getattr(event, attribute)) * level for event, level in levels), 0.0)

        hip = rider.hip_m + seat_tube_direction() * scene.saddle_mm / 1000
        hip = hip + [
            varied["hip_forward_m"][frame] + changed("hip_forward_mm") / 1000,
            varied["hip_up_m"][frame] + changed("hip_up_mm") / 1000,
            0.0,
        ]
        torso = rider.fit.torso_deg + DROPS_TORSO_DEG * self.drops_level(time_s)
        torso += SADDLE_TORSO_DEG_PER_MM * scene.saddle_mm
        return Posture(
            right_crank_deg=float(self.right_crank_deg[frame]),
            hip_m=hip,
            torso_deg=torso + varied["torso_deg"][frame] + changed("torso_deg"),
            pelvis_tilt_deg=float(varied["tilt_deg"][frame]),
            foot_pitch_deg=rider.fit.foot_pitch_deg
            + varied["foot_pitch_deg"][frame]
            + changed("foot_pitch_deg"),
            foot_swing_deg=rider.fit.foot_swing_deg + varied["foot_swing_deg"][frame],
            hands={side: self._hand(side, frame) for side in SIDES},
            head_lean_deg=rider.fit.head_lean_deg + varied["head_lean_deg"][frame],
        )
