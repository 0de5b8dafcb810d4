"""Findings of one look for the background, made on the spot."""

from __future__ import annotations

import math

import numpy as np

from posewatch.core.records import BoolArray, FloatArray
from posewatch.core.view_motion import Findings

WIDTH, HEIGHT = 640, 480


def grid_px() -> FloatArray:
    """Return (48, 2) places spread over a picture, none in a line with all others."""
    x, y = np.meshgrid(np.linspace(30, 610, 8), np.linspace(25, 455, 6))
    places = np.stack([x, y], axis=-1).reshape(-1, 2)
    return places + np.random.default_rng(0).uniform(-15, 15, places.shape)


def moved_by(
    places: FloatArray,
    right_px: float = 0.0,
    down_px: float = 0.0,
    scale: float = 1.0,
    roll_deg: float = 0.0,
) -> FloatArray:
    """Return (n, 2) shifts of places in a picture whose content moved about its middle."""
    middle = np.array([WIDTH / 2, HEIGHT / 2])
    cos, sin = math.cos(math.radians(roll_deg)), math.sin(math.radians(roll_deg))
    turned = (places - middle) @ np.array([[cos, sin], [-sin, cos]]) * scale
    shifts: FloatArray = turned + middle + [right_px, down_px] - places
    return shifts


def found(
    places: FloatArray,
    shifts: FloatArray,
    sharpness: float = 1.0,
    expected: BoolArray | None = None,
    contrast: float = 20.0,
    size: int = 1,
) -> Findings:
    """Return a look that found patches; size: of the picture, in times WIDTH and HEIGHT."""
    there = np.isfinite(shifts).all(axis=1)
    return Findings(
        size * WIDTH,
        size * HEIGHT,
        places,
        shifts,
        np.where(there, 0.95, 0.3),
        np.where(there, sharpness, np.nan),
        np.ones(len(places), bool) if expected is None else expected,
        contrast,
    )
