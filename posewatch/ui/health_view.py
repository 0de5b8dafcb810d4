"""How well the loop keeps up, as short items; whatever is out of its limit has a sign and a word.

Without Qt. Nothing that was not measured is called good: it is a dash.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import IntEnum

from posewatch.core.outputs import Reason
from posewatch.runtime.health import Health, Stage
from posewatch.studio import Doing
from posewatch.ui.channel_words import NOT_KNOWN
from posewatch.ui.scene import Scene, SensorLine

#: A camera that gives a smaller share of its chain's rate is slow.
LEAST_RATE = 0.8
#: More than this share of the pictures overtaken is too much.
MOST_OVERTAKEN = 0.02
#: From the grab to the end of the paint that shows it, ms.
MOST_PAINT_MS = 200.0
#: A crash may lose one second.
MOST_LOG_AGE_S = 1.5
MOST_LOG_LAG = 300
#: A sensor without a value for so long is silent; sensors send once a second, or more often.
MOST_SENSOR_AGE_S = 2.5
GB = 1e9
LITTLE_DISK_GB, NO_DISK_GB = 5.0, 1.0


class Level(IntEnum):
    """How an item is."""

    WELL = 0
    WARN = 1
    FAULT = 2


#: Goes before an item, so that colour is not all there is.
SIGNS = {Level.WELL: "", Level.WARN: "\N{WHITE UP-POINTING TRIANGLE}", Level.FAULT: "\N{BALLOT X}"}


@dataclass(frozen=True, slots=True)
class Item:
    """One item. word: what is wrong, empty = nothing is."""

    name: str
    text: str
    level: Level = Level.WELL
    word: str = ""

    @property
    def line(self) -> str:
        """The whole of it."""
        sign = SIGNS[self.level]
        parts = [sign, self.name, self.text, f"({self.word})" if self.word else ""]
        return " ".join(part for part in parts if part)


def health_items(scene: Scene) -> tuple[Item, ...]:
    """Return the items of the moment, always the same ones in the same order."""
    health, is_open = scene.health, scene.doing is not Doing.NOTHING
    rate_hz = math.nan if scene.target is None else scene.target.chain.rate_hz
    return (
        _camera(scene),
        _rate(health, rate_hz, is_open),
        _overtaken(health),
        _model(health.model, rate_hz),
        _paint(health.paint),
        _log(health, scene.doing is Doing.WATCH),
        _disk(health.disk_free_bytes),
    )


def sensor_items(scene: Scene) -> tuple[Item, ...]:
    """Return an item for each sensor of the watch."""
    return tuple(_sensor(one) for one in scene.sensors)


def _camera(scene: Scene) -> Item:
    if scene.doing is Doing.NOTHING:
        return Item("camera", "closed")
    waiting = () if scene.standing is None else scene.standing.waiting
    if Reason.CAMERA in waiting:
        return Item("camera", "open", Level.FAULT, "no picture")
    if Reason.VIEW_MOVED in waiting:
        return Item("camera", "open", Level.FAULT, "moved")
    if scene.camera:
        return Item("camera", "open", Level.WARN, "see messages")
    return Item("camera", "open")


def _rate(health: Health, wanted_hz: float, is_open: bool) -> Item:
    if not is_open or not health.n_handled:
        return Item("pictures", NOT_KNOWN)
    of = "" if math.isnan(wanted_hz) else f" of {wanted_hz:.0f}"
    slow = health.rate_hz < LEAST_RATE * wanted_hz
    level, word = (Level.WARN, "slow") if slow else (Level.WELL, "")
    return Item("pictures", f"{health.rate_hz:.0f}{of} a second", level, word)


def _overtaken(health: Health) -> Item:
    seen = health.n_handled + health.overtaken
    many = health.overtaken > MOST_OVERTAKEN * seen
    return Item(
        "overtaken",
        f"{health.overtaken}" if seen else NOT_KNOWN,
        Level.WARN if many else Level.WELL,
        "too many" if many else "",
    )


def _times(stage: Stage) -> str:
    if math.isnan(stage.p50_ms):
        return NOT_KNOWN
    return f"{stage.p50_ms:.0f} / {stage.p95_ms:.0f} ms"


def _model(stage: Stage, rate_hz: float) -> Item:
    late = stage.p95_ms > 1000.0 / rate_hz
    return Item(
        "model", _times(stage), Level.WARN if late else Level.WELL, "too slow" if late else ""
    )


def _paint(stage: Stage) -> Item:
    late = stage.p95_ms > MOST_PAINT_MS
    return Item(
        "grab to screen", _times(stage), Level.WARN if late else Level.WELL, "late" if late else ""
    )


def _log(health: Health, is_logged: bool) -> Item:
    if not is_logged or math.isnan(health.log_age_s):
        return Item("log", NOT_KNOWN)
    text = f"saved {health.log_age_s:.1f} s ago, {health.log_lag} waiting"
    late = health.log_age_s > MOST_LOG_AGE_S or health.log_lag > MOST_LOG_LAG
    return Item("log", text, Level.FAULT if late else Level.WELL, "behind" if late else "")


def _disk(free_bytes: int) -> Item:
    if free_bytes < 0:
        return Item("disk", NOT_KNOWN)
    free_gb = free_bytes / GB
    text = f"{free_gb:.1f} GB" if free_gb < 10.0 else f"{free_gb:.0f} GB"
    if free_gb < NO_DISK_GB:
        return Item("disk", text, Level.FAULT, "full")
    if free_gb < LITTLE_DISK_GB:
        return Item("disk", text, Level.WARN, "little left")
    return Item("disk", text)


def is_silent(line: SensorLine) -> bool:
    """Return whether a sensor gives nothing now."""
    return bool(line.state) or not line.age_s <= MOST_SENSOR_AGE_S


def _sensor(line: SensorLine) -> Item:
    if not is_silent(line):
        parts = (line.gives, line.whose, f"{line.age_s:.1f} s")
        return Item(f"{line.name}:", ", ".join(part for part in parts if part))
    return Item(f"{line.name}:", silence(line), Level.WARN, line.state)


def silence(line: SensorLine) -> str:
    """Say for how long nothing has come of a sensor."""
    return "no packet yet" if math.isnan(line.age_s) else f"no packet for {line.age_s:.0f} s"
