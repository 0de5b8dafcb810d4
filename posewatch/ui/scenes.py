"""Makes the scene that all windows are told at a poll. Without Qt."""

from __future__ import annotations

from posewatch.core.records import (
    CAMERA,
    DISK,
    NS_PER_S,
    PICTURE,
    VIDEO,
    VIEW,
    SourceCondition,
    SourceState,
)
from posewatch.runtime.disk_watch import free_bytes
from posewatch.runtime.engine import Post
from posewatch.runtime.health import Health
from posewatch.studio import Doing, Studio
from posewatch.ui import sensor_lines
from posewatch.ui.scene import Scene, SensorLine, Switches
from posewatch.ui.sensor_lines import RecordedSensors

#: Figures for people's eyes are made anew this often; the disk is asked this often.
HEALTH_NS = NS_PER_S // 2
SENSORS_NS = NS_PER_S // 2
DISK_NS = 5 * NS_PER_S

#: The sources whose trouble every window tells.
TOLD = (CAMERA, PICTURE, VIEW, DISK)


class SceneMaker:
    """Makes one scene after the other; what was said is told in exactly one of them."""

    def __init__(self, studio: Studio) -> None:
        self._studio = studio
        self._post: Post | None = None
        self._wrong: dict[str, str] = {}
        self._video = ""
        self._health: tuple[int, Health] | None = None
        self._disk_ns: int | None = None
        self._sensors: tuple[int, tuple[SensorLine, ...]] | None = None
        self._recorded: RecordedSensors | None = None

    def scene(self, switches: Switches, now_ns: int) -> Scene:
        """Return what there is to see now. now_ns: monotonic clock."""
        studio, post = self._studio, self._studio.post
        if post is not self._post:
            self._post, self._health, self._disk_ns = post, None, None
            self._sensors, recording = None, studio.chosen.sensors.recording
            self._recorded = None if recording is None else RecordedSensors(recording)
            self._wrong.clear()
            self._video = ""
        said = tuple(post.take_said())
        for one in said:
            if isinstance(one.item, SourceState) and one.item.source in TOLD:
                self._follow(one.item)
            elif isinstance(one.item, SourceState) and one.item.source == VIDEO:
                self._follow_video(one.item.condition)
        if self._recorded is not None:
            self._recorded.hear(said)
        return Scene(
            now_ns,
            studio.doing,
            studio.engine.state,
            "" if studio.error is None else str(studio.error),
            studio.paused,
            post.shown,
            said,
            post.progress,
            self._read_health(post, now_ns),
            switches,
            studio.chosen.target,
            studio.chosen.plan,
            next(iter(self._wrong.values()), ""),
            self._read_sensors(post, now_ns),
            video=self._video if studio.doing is Doing.WATCH else "",
        )

    def _follow_video(self, condition: SourceCondition) -> None:
        use = self._studio.kept_video
        if condition in (SourceCondition.LOST, SourceCondition.FULL):
            self._video = "video ENDED"
        elif use is not None:
            self._video = f"video is kept, {use.words}"

    def _follow(self, state: SourceState) -> None:
        if state.condition in (SourceCondition.RUNNING, SourceCondition.ENDED):
            self._wrong.pop(state.source, None)
        else:
            self._wrong[state.source] = state.text or str(state.condition)

    def _read_sensors(self, post: Post, now_ns: int) -> tuple[SensorLine, ...]:
        if self._sensors is None or now_ns - self._sensors[0] >= SENSORS_NS:
            self._sensors = (now_ns, self._sensor_lines(post, now_ns))
        return self._sensors[1]

    def _sensor_lines(self, post: Post, now_ns: int) -> tuple[SensorLine, ...]:
        studio = self._studio
        if studio.live is not None:
            return sensor_lines.of_live(studio.live.statuses(), studio.chosen, now_ns)
        if self._recorded is None or studio.doing is not Doing.WATCH:
            return ()
        return self._recorded.lines(studio.chosen, 0 if post.shown is None else post.shown.t_ns)

    def _read_health(self, post: Post, now_ns: int) -> Health:
        # A watch that keeps a log measures it itself.
        is_due = self._disk_ns is None or now_ns - self._disk_ns >= DISK_NS
        if is_due and self._studio.doing is not Doing.WATCH:
            self._disk_ns = now_ns
            post.health.disk_free_bytes = free_bytes(self._studio.settings.data_folder)
        if self._health is None or now_ns - self._health[0] >= HEALTH_NS:
            self._health = (now_ns, post.health.read())
        return self._health[1]
