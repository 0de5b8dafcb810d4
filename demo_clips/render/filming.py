"""Films one scene: draws every frame, encodes the clip, and writes the truth beside it."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from functools import cached_property
from pathlib import Path

from demo_clips.render.bike import pedal_pitches, seat_tube_direction, still_parts, turning_parts
from demo_clips.render.body import load_body
from demo_clips.render.bystander import standing_pose
from demo_clips.render.dress import DressedBody
from demo_clips.render.encoding import Image, encode
from demo_clips.render.kit import WALKER_KIT, Kit
from demo_clips.render.motion import PARKED_CRANK_DEG, Motion
from demo_clips.render.poster import poster, poster_picture
from demo_clips.render.renderer import Renderer
from demo_clips.render.rider import SIDES, Rider
from demo_clips.render.room import room, screen
from demo_clips.render.scene import Scene
from demo_clips.render.shapes import Mesh, join
from demo_clips.render.skeleton import Pose
from demo_clips.render.stickers import Stickers
from demo_clips.render.truth import truth_row, truth_text
from demo_clips.render.walker import walking_pose


class Film:
    """A scene ready to be drawn. Close it (or use it as a context manager) when done."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        body = load_body()
        self.rider = Rider(body, scene.fit)
        self.motion = Motion(scene, self.rider)
        self._rider_dress = DressedBody(body, scene.kit)
        self.stickers = (
            Stickers(self.rider, self._rider_dress, scene.camera.side) if scene.has_dots else None
        )
        saddle_shift = seat_tube_direction() * scene.saddle_mm / 1000
        side = scene.camera.side
        still = [room(side), still_parts(self.rider, saddle_shift)]
        still += [screen(side)] if scene.has_screen else []
        still += [poster(side)] if scene.has_poster else []
        picture = poster_picture(self.rider) if scene.has_poster else None
        self._renderer = Renderer(scene.camera, scene.light, join(still), picture)

    def __enter__(self) -> Film:
        return self

    def __exit__(self, *_: object) -> None:
        self._renderer.close()

    @cached_property
    def _other_dress(self) -> DressedBody:
        return DressedBody(self.rider.body, WALKER_KIT)

    def _second_person(self, time_s: float) -> list[tuple[Mesh, Kit | None]]:
        span, sign = self.scene.walker_s, self.scene.camera.sign
        if self.scene.has_bystander:
            pose = standing_pose(self.rider, time_s, sign)
            return [(self._other_dress.posed(pose), WALKER_KIT)]
        if span is None or not span[0] <= time_s < span[1]:
            return []
        share = (time_s - span[0]) / (span[1] - span[0])
        pose = walking_pose(self.rider.body, share, sign)
        return [(self._other_dress.posed(pose), WALKER_KIT)]

    def frame(self, number: int) -> tuple[Image, Pose | None]:
        """One image (height, width, 3) and the rider's pose in it; None without a rider."""
        moving = self._second_person(float(self.motion.time_s[number]))
        if not self.scene.has_rider:
            flat = dict.fromkeys(SIDES, 0.0)
            moving.append((turning_parts(self.rider, PARKED_CRANK_DEG, flat), None))
            return self._renderer.frame(moving), None
        posture = self.motion.posture(number)
        pose = self.rider.pose(posture)
        pitches = pedal_pitches(self.rider, posture)
        moving.append((turning_parts(self.rider, posture.right_crank_deg, pitches), None))
        moving.append((self._rider_dress.posed(pose), self.scene.kit))
        if self.stickers is not None:
            moving.append((self.stickers.mesh(pose, posture.right_crank_deg), None))
        return self._renderer.frame(moving), pose


def shoot(scene: Scene, folder: Path, on_frame: Callable[[], None]) -> None:
    """Write NAME.mp4 and NAME.truth.csv into ``folder``, replacing older ones only when done."""
    rows: list[dict[str, str]] = []

    def images(film: Film) -> Iterator[Image]:
        for number in range(scene.frame_count):
            image, pose = film.frame(number)
            rows.append(truth_row(film.motion, number, pose, film.stickers))
            on_frame()
            yield image

    clip, truth = folder / f"{scene.name}.mp4", folder / f"{scene.name}.truth.csv"
    unfinished = {path: path.with_name(path.name + ".part") for path in (clip, truth)}
    with Film(scene) as film:
        encode(unfinished[clip], scene.camera, scene.frames_per_s, images(film))
    unfinished[truth].write_text(truth_text(rows), encoding="utf-8")
    for path in (truth, clip):
        os.replace(unfinished[path], path)
