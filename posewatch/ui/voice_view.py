"""Which sound the rider hears at one moment: decided here, played elsewhere. Without Qt."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import StrEnum

from posewatch.core.outputs import Phase, Reason
from posewatch.core.records import NS_PER_S
from posewatch.ui.scene import Scene

#: The same correction, and the tone for being in position, come again only after so long.
AGAIN_NS = 4 * NS_PER_S
#: Another correction does not cut the one before it off.
BETWEEN_NS = 5 * NS_PER_S // 2
#: Hand positions in which the head is down and the window out of sight.
HEAD_DOWN = frozenset({"drops", "aero"})


class Tone(StrEnum):
    """The two tunes."""

    RISING = "rising"
    FALLING = "falling"


@dataclass(frozen=True, slots=True)
class Sound:
    """A tune, and words after it; empty = none."""

    tone: Tone
    words: str = ""


@dataclass(frozen=True, slots=True)
class VoiceMemory:
    """What was heard. standing: the correction under way that has been told already.

    told_ns: when each correction was last told. last_ns: when any was. rose_ns: when the tone for
    being in position last came. t_ns: the watch's own time.
    """

    in_position: bool = False
    standing: str = ""
    told_ns: dict[str, int] = field(default_factory=dict)
    last_ns: int | None = None
    rose_ns: int | None = None
    t_ns: int = -1


def speaks_by_default(hands: str) -> bool:
    """Return whether words are spoken by default in a hand position."""
    return not HEAD_DOWN.isdisjoint(hands.lower().replace("-", " ").split())


def voice_view(scene: Scene, before: VoiceMemory) -> tuple[VoiceMemory, Sound | None]:
    """Return what is heard from now on, if anything new is, and what to remember."""
    stands, now_ns = scene.standing, scene.monotonic_ns
    if stands is None:
        return VoiceMemory(), None
    if stands.t_ns < before.t_ns:
        before = VoiceMemory()
    in_position = stands.phase is Phase.IN_POSITION
    came_in = in_position and not before.in_position
    before = replace(before, in_position=in_position, t_ns=stands.t_ns)
    rests = bool(scene.paused) or Reason.PAUSED in stands.waiting
    if rests or stands.reached or scene.reset is not None or not scene.switches.sound:
        # What stands now is told afresh once there is sound again.
        return replace(before, standing=""), None
    if came_in and _is_due(before.rose_ns, now_ns, AGAIN_NS):
        return replace(before, rose_ns=now_ns), Sound(Tone.RISING)
    words = stands.direction if stands.cue is not None and scene.switches.cues else ""
    if not words:
        return replace(before, standing=""), None
    if (
        words == before.standing
        or not _is_due(before.told_ns.get(words), now_ns, AGAIN_NS)
        or not _is_due(before.last_ns, now_ns, BETWEEN_NS)
    ):
        return before, None
    told_ns = {**before.told_ns, words: now_ns}
    memory = replace(before, standing=words, told_ns=told_ns, last_ns=now_ns)
    return memory, Sound(Tone.FALLING, words if scene.switches.speech else "")


def _is_due(last_ns: int | None, now_ns: int, after_ns: int) -> bool:
    return last_ns is None or now_ns - last_ns >= after_ns
