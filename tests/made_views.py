"""What may happen to a camera's picture: moves that must be noticed, and harmless changes."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from posewatch.camera.clip import Clip
from posewatch.camera.opencv import cv2
from posewatch.core.records import FloatArray
from posewatch.pose.recorded import RecordedLandmarks

CLIPS = Path(__file__).parents[1] / "demo_clips"

Picture = NDArray[np.uint8]
#: A picture and the seconds since something began; gives what the camera sends instead.
Effect = Callable[[Picture, float], Picture]


@cache
def clip_pictures(name: str, until_s: float, every: int) -> tuple[tuple[int, Picture], ...]:
    """Return the time in ns and RGB of every so many pictures of a demo clip."""
    kept = []
    for number, picture in enumerate(Clip(CLIPS / f"{name}.mp4")):
        if picture.t_ns > until_s * 1e9:
            break
        if number % every == 0:
            kept.append((picture.t_ns, picture.rgb))
    return tuple(kept)


@cache
def clip_landmarks(name: str) -> dict[int, FloatArray]:
    """Return a demo clip's recorded landmarks, (33, 2) image px, by time in ns."""
    path = CLIPS / "landmarks" / f"{name}.landmarks.npz"
    return {frame.t_ns: frame.points_px for frame in RecordedLandmarks(path)}


def warped(
    right_px: float = 0.0, down_px: float = 0.0, scale: float = 1.0, roll_deg: float = 0.0
) -> Effect:
    """Shift, scale and turn (clockwise) the picture's content about its middle."""

    def effect(rgb: Picture, _: float) -> Picture:
        height, width = rgb.shape[:2]
        cos = math.cos(math.radians(roll_deg)) * scale
        sin = math.sin(math.radians(roll_deg)) * scale
        turn = np.array([[cos, -sin], [sin, cos]])
        # OpenCV counts from the middle of the first pixel.
        middle = np.array([(width - 1) / 2, (height - 1) / 2])
        matrix = np.column_stack([turn, middle - turn @ middle + [right_px, down_px]])
        out = cv2.warpAffine(
            rgb, matrix, (width, height), flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT
        )
        return np.asarray(out, np.uint8)

    return effect


def blurred(sd_px: float) -> Effect:
    return lambda rgb, _: np.asarray(cv2.GaussianBlur(rgb, (0, 0), sd_px), np.uint8)


def lit(gain: float = 1.0, offset: float = 0.0, gamma: float = 1.0) -> Effect:
    """Change the light, or the camera's own exposure."""
    table = 255.0 * (np.arange(256) / 255.0) ** gamma * gain + offset
    levels = np.clip(np.rint(table), 0, 255).astype(np.uint8)
    return lambda rgb, _: np.asarray(levels[rgb], np.uint8)


def shaded(left: float, right: float) -> Effect:
    """Light that falls in from one side."""

    def effect(rgb: Picture, _: float) -> Picture:
        ramp = np.linspace(left, right, rgb.shape[1], dtype=np.float32)[:, None]
        return np.asarray(np.clip(rgb * ramp, 0, 255), np.uint8)

    return effect


def flickering(depth: float) -> Effect:
    """A lamp's flicker as bands that run through the picture."""

    def effect(rgb: Picture, since_s: float) -> Picture:
        rows = np.arange(rgb.shape[0], dtype=np.float32)[:, None, None]
        return np.clip(rgb * (1 + depth * np.sin(rows / 40 + 31 * since_s)), 0, 255).astype(
            np.uint8
        )

    return effect


def noisy(sd: float) -> Effect:
    """The sensor's noise, grey levels; another in each picture, the same in each run."""

    def effect(rgb: Picture, since_s: float) -> Picture:
        seeded = np.random.default_rng(round(since_s * 1000) + 7)
        noise = seeded.standard_normal(rgb.shape, np.float32) * sd
        return np.clip(np.rint(rgb + noise), 0, 255).astype(np.uint8)

    return effect


def hidden(left: float, right: float) -> Effect:
    """Something with a pattern of its own stands before a part of the picture (shares of it)."""
    pattern = np.random.default_rng(3).integers(0, 255, (40, 60, 3), np.uint8)

    def effect(rgb: Picture, _: float) -> Picture:
        height, width = rgb.shape[:2]
        begin, end = round(left * width), round(right * width)
        out = rgb.copy()
        out[:, begin:end] = cv2.resize(
            pattern, (end - begin, height), interpolation=cv2.INTER_NEAREST
        )
        return out

    return effect


def fan(rgb: Picture, since_s: float) -> Picture:
    """A fan that turns its head and is pushed along the floor."""
    blades = np.random.default_rng(4).integers(0, 255, (10, 9, 3), np.uint8)
    blades = np.asarray(cv2.resize(blades, (90, 100), interpolation=cv2.INTER_NEAREST), np.uint8)
    turn = cv2.getRotationMatrix2D((45, 50), 137 * since_s, 1.0)
    left = round(min(540.0, 430.0 + 15.0 * max(0.0, since_s)))
    out = rgb.copy()
    out[150:250, left : left + 90] = cv2.warpAffine(blades, turn, (90, 100))
    return out


def another_room() -> Effect:
    """The picture of a camera that looks at something else."""
    seeded = np.random.default_rng(7)
    room = np.full((480, 640, 3), 170, np.uint8)
    for _ in range(120):
        x, y = int(seeded.integers(0, 640)), int(seeded.integers(0, 480))
        colour = tuple(int(value) for value in seeded.integers(0, 255, 3))
        wide, high = (int(value) for value in seeded.integers(10, 120, 2))
        cv2.rectangle(room, (x, y), (x + wide, y + high), colour, -1)
    return lambda *_: room


#: What must be noticed, and how many seconds it may take.
MOVES: dict[str, tuple[Effect, float]] = {
    "2 px right": (warped(right_px=2), 3.0),
    "2 px up": (warped(down_px=-2), 3.0),
    "3 px left": (warped(right_px=-3), 3.0),
    "6 px down": (warped(down_px=6), 3.0),
    "40 px right": (warped(right_px=40), 3.0),
    "28 px left and down": (warped(-28, 28), 3.0),
    "zoom in 1 %": (warped(scale=1.01), 3.0),
    "zoom out 1 %": (warped(scale=0.99), 3.0),
    "zoom in 3 %": (warped(scale=1.03), 3.0),
    "roll 0.5 degrees": (warped(roll_deg=0.5), 3.0),
    "roll -0.5 degrees": (warped(roll_deg=-0.5), 3.0),
    "defocus": (blurred(1.5), 3.0),
    "mirrored": (lambda rgb, _: np.ascontiguousarray(rgb[:, ::-1]), 4.0),
    "another room": (another_room(), 4.0),
}
#: What must not trip it.
HARMLESS: dict[str, Effect] = {
    "darker": lit(gain=0.6),
    "brighter": lit(gain=1.4),
    "offset up": lit(offset=40),
    "offset down": lit(offset=-40),
    "gamma 0.6": lit(gamma=0.6),
    "gamma 1.7": lit(gamma=1.7),
    "light from the right": shaded(0.5, 1.3),
    "flicker": flickering(0.2),
    "noise": noisy(8),
    "fan": fan,
    "half a pixel": warped(0.4, 0.3),
    "rocking": lambda rgb, since_s: warped(3 * math.sin(9.3 * since_s))(rgb, since_s),
}
