"""What the open camera has shown lately, for the readiness list. Without Qt."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, replace

from posewatch.core.camera_watch import NEAR
from posewatch.core.doubts import Doubt
from posewatch.core.needs import Sight
from posewatch.core.records import NS_PER_S, PICTURE, Side, SourceCondition, SourceState
from posewatch.core.sources import Picture
from posewatch.runtime.engine import Shown
from posewatch.studio import Doing
from posewatch.ui.scene import Scene

#: Without a new picture for so long, they do not come.
BREAK_NS = NS_PER_S
#: Whether the body is seen is told from so long.
RECENT_NS = 2 * NS_PER_S
#: How bright it is changes slowly, and is measured so often, on every so many-th pixel.
MEASURED_NS = NS_PER_S
EVERY_PX = 8

JointDoubt = tuple[str, Doubt]


@dataclass(frozen=True, slots=True)
class Looking:
    """What is remembered from scene to scene while a camera is open.

    moment_ns: the newest picture's own time, -1 = none. came_ns, since_ns: monotonic clock, of the
    newest and of the first without a break. recent: when each of the last moments came, and what
    was not believed in it. dark_said: by the source. brightness: 0 to 1, NaN = no picture.
    """

    moment_ns: int = -1
    came_ns: int = 0
    since_ns: int = 0
    recent: tuple[tuple[int, JointDoubt | None], ...] = ()
    dark_said: str = ""
    brightness: float = math.nan
    measured_ns: int = 0
    side: Side | None = None


def look(before: Looking, scene: Scene) -> Looking:
    """Take in a scene; a closed camera is forgotten."""
    if scene.doing is not Doing.PREVIEW:
        return Looking()
    now = replace(before, dark_said=_dark_said(before.dark_said, scene))
    shown = scene.shown
    if shown is None or (moment_ns := _moment_ns(shown)) == before.moment_ns:
        return now
    now_ns, tracked = scene.monotonic_ns, shown.tracked
    broken = before.moment_ns < 0 or now_ns - before.came_ns > BREAK_NS
    now = replace(
        now,
        moment_ns=moment_ns,
        came_ns=now_ns,
        since_ns=now_ns if broken else before.since_ns,
        recent=() if broken else _recent(before, now_ns),
    )
    if tracked is not None:
        newest = (now_ns, tracked.body.doubt())
        now = replace(now, recent=(*now.recent, newest), side=tracked.side)
    if shown.picture is not None and (broken or now_ns - before.measured_ns >= MEASURED_NS):
        now = replace(now, brightness=brightness(shown.picture.rgb), measured_ns=now_ns)
    return now


def sight(looking: Looking, now_ns: int, rate_hz: float) -> Sight:
    """Return what it comes to at a moment of the monotonic clock."""
    if looking.moment_ns < 0 or now_ns - looking.came_ns > BREAK_NS:
        return Sight(light=_light(looking))
    recent = _recent(looking, now_ns)
    doubts = Counter(doubt for _, doubt in recent if doubt is not None)
    seen = len(recent) - doubts.total()
    return Sight(
        (now_ns - looking.since_ns) / NS_PER_S,
        rate_hz,
        _light(looking),
        seen / len(recent) if recent else math.nan,
        doubts.most_common(1)[0][0] if doubts else None,
        looking.side if seen else None,
    )


def brightness(rgb: Picture) -> float:
    """Return how bright a picture is in the mean, 0 to 1."""
    return float(rgb[::EVERY_PX, ::EVERY_PX].mean()) / 255


def _moment_ns(shown: Shown) -> int:
    """Return the picture's time: while a lost camera is waited for, the moment's goes on."""
    return shown.t_ns if shown.picture is None else shown.picture.t_ns


def _recent(looking: Looking, now_ns: int) -> tuple[tuple[int, JointDoubt | None], ...]:
    return tuple(one for one in looking.recent if now_ns - one[0] <= RECENT_NS)


def _dark_said(before: str, scene: Scene) -> str:
    for said in scene.said:
        item = said.item
        if isinstance(item, SourceState) and item.source == PICTURE:
            before = item.text if item.condition is SourceCondition.DARK else ""
    return before


def _light(looking: Looking) -> str | None:
    if looking.dark_said:
        return looking.dark_said
    if math.isnan(looking.brightness):
        return None
    if looking.brightness < NEAR.dark:
        return f"the picture is dark, {100 * looking.brightness:.0f} % of full brightness"
    return ""
