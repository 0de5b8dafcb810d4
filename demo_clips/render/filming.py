"""Films one scene: draws every frame, encodes the clip, and writes the truth beside it."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from fractions import Fraction
from functools import cached_property
from pathlib import Path

import av
import numpy as np
from numpy.typing import NDArray

from demo_clips.render.bike import pedal_pitches, seat_tube_direction, still_parts, turning_parts
from demo_clips.render.body import load_body
from demo_clips.render.kit import WALKER_KIT, DressedBody, Kit
from demo_clips.render.motion import PARKED_CRANK_DEG, Motion
from demo_clips.render.renderer import Renderer
from demo_clips.render.rider import SIDES, Rider
from demo_clips.render.room import room
from demo_clips.render.scene import FRAMES_PER_S, Scene
from demo_clips.render.shapes import Mesh, join
from demo_clips.render.skeleton import Pose
from demo_clips.render.truth import truth_row, truth_text
from demo_clips.render.walker import walking_pose

Image = NDArray[np.uint8]

ENCODER_OPTIONS = {"crf": "23", "preset": "slow", "bf": "0"}


class Film:
    """A scene ready to be drawn. Close it (or use it as a context manager) when done."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        body = load_body()
        self.rider = Rider(body, scene.fit)
        self.motion = Motion(scene, self.rider)
        self._rider_dress = DressedBody(body, scene.kit)
        saddle_shift = seat_tube_direction() * scene.saddle_mm / 1000
        still = join([room(scene.camera.side), still_parts(self.rider, saddle_shift)])
        self._renderer = Renderer(scene.camera, scene.light, still)

    def __enter__(self) -> Film:
        return self

    def __exit__(self, *_: object) -> None:
        self._renderer.close()

    @cached_property
    def _walker_dress(self) -> DressedBody:
        return DressedBody(self.rider.body, WALKER_KIT)

    def _walker(self, time_s: float) -> list[tuple[Mesh, Kit | None]]:
        span = self.scene.walker_s
        if span is None or not span[0] <= time_s < span[1]:
            return []
        share = (time_s - span[0]) / (span[1] - span[0])
        pose = walking_pose(self.rider.body, share, self.scene.camera.sign)
        return [(self._walker_dress.posed(pose), WALKER_KIT)]

    def frame(self, number: int) -> tuple[Image, Pose | None]:
        """One image (height, width, 3) and the rider's pose in it; None without a rider."""
        moving = self._walker(float(self.motion.time_s[number]))
        if not self.scene.has_rider:
            flat = dict.fromkeys(SIDES, 0.0)
            moving.append((turning_parts(self.rider, PARKED_CRANK_DEG, flat), None))
            return self._renderer.frame(moving), None
        posture = self.motion.posture(number)
        pose = self.rider.pose(posture)
        pitches = pedal_pitches(self.rider, posture)
        moving.append((turning_parts(self.rider, posture.right_crank_deg, pitches), None))
        moving.append((self._rider_dress.posed(pose), self.scene.kit))
        return self._renderer.frame(moving), pose


def _encode(path: Path, scene: Scene, images: Iterator[Image]) -> None:
    """Write images as H.264 at a constant rate, presentation times from 0."""
    with av.open(str(path), "w", format="mp4", options={"movflags": "+faststart"}) as container:
        stream = container.add_stream("libx264", rate=FRAMES_PER_S, options=ENCODER_OPTIONS)
        stream.width, stream.height = scene.camera.width_px, scene.camera.height_px
        stream.pix_fmt = "yuv420p"
        stream.time_base = Fraction(1, FRAMES_PER_S)
        for number, image in enumerate(images):
            picture = av.VideoFrame.from_ndarray(image, format="rgb24")
            picture.pts = number
            picture.time_base = Fraction(1, FRAMES_PER_S)
            container.mux(stream.encode(picture))
        container.mux(stream.encode(None))


def shoot(scene: Scene, folder: Path, on_frame: Callable[[], None]) -> None:
    """Write NAME.mp4 and NAME.truth.csv into ``folder``, replacing older ones only when done."""
    rows: list[dict[str, str]] = []

    def images(film: Film) -> Iterator[Image]:
        for number in range(scene.frame_count):
            image, pose = film.frame(number)
            rows.append(truth_row(film.motion, number, pose))
            on_frame()
            yield image

    clip, truth = folder / f"{scene.name}.mp4", folder / f"{scene.name}.truth.csv"
    unfinished = {path: path.with_name(path.name + ".part") for path in (clip, truth)}
    with Film(scene) as film:
        _encode(unfinished[clip], scene, images(film))
    unfinished[truth].write_text(truth_text(rows), encoding="utf-8")
    for path in (truth, clip):
        os.replace(unfinished[path], path)
