"""The rider's cue: one correction at a time, with a direction, in body words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import isnan

from posewatch.core.outputs import ChannelValue, CueChanged
from posewatch.core.records import NS_PER_S, Channel

#: A channel must stay out this long before it cues, and a cue stays at least so long.
ON_AFTER_NS = int(0.3 * NS_PER_S)
KEPT_AT_LEAST_NS = 1 * NS_PER_S
#: Too much movement cues after the slowest revolution and as long again as any other.
RESTLESS_AFTER_NS = int(1.8 * NS_PER_S)

#: While one of these is out, knee and hip say nothing: they follow.
LEADING = frozenset({Channel.TORSO, Channel.HAND_PLACE, Channel.SITTING_PLACE})
FOLLOWING = frozenset({Channel.KNEE, Channel.HIP})

#: What to do when the value is above, and when it is below, its centre.
WORDS: dict[Channel, tuple[str, str]] = {
    Channel.TORSO: ("lower, bend elbows", "taller, straighten arms"),
    Channel.KNEE: ("heels lower", "heels higher"),
    Channel.HIP: ("tip pelvis forward", "tip pelvis back"),
    Channel.SITTING_PLACE: ("sit back", "sit forward"),
    Channel.PELVIS_HEIGHT: ("sit down firmly", "sit lightly"),
    Channel.POWER: ("ease off", "push harder"),
    Channel.CADENCE: ("spin slower", "spin faster"),
}
#: For a mean in band with too much movement about it.
RESTLESS_WORDS = "ride more quietly"
#: For the hand, by the larger part: (forward, back) and (up, down) of where it is.
HAND_WORDS = (("hands back", "hands forward"), ("hands lower", "hands higher"))


def correction(value: ChannelValue) -> str:
    """Return the words that lead a channel back to its centre."""
    if value.restless:
        return RESTLESS_WORDS
    if value.channel is Channel.HAND_PLACE:
        along = abs(value.along) >= abs(value.up)
        part = value.along if along else value.up
        return HAND_WORDS[0 if along else 1][0 if part > 0 else 1]
    return WORDS[value.channel][0 if value.deviation > 0 else 1]


@dataclass(frozen=True, slots=True)
class LiveChannel:
    """A channel's live value beside its limits (same unit)."""

    value: ChannelValue
    tol: float
    inner: float


@dataclass(frozen=True, slots=True)
class Out:
    """A channel that is out: since when, and whether only by moving too much about its mean."""

    channel: Channel
    since_ns: int
    restless: bool

    @property
    def ready_ns(self) -> int:
        """When it may cue. A change of place, too, looks restless for the revolution it takes."""
        return self.since_ns + (RESTLESS_AFTER_NS if self.restless else ON_AFTER_NS)


@dataclass(frozen=True, slots=True)
class CueState:
    """Which channels are out, and what the rider is told.

    out: channels beyond tol and not yet back inside the inner limit, and restless ones.
    """

    out: tuple[Out, ...] = ()
    channel: Channel | None = None
    direction: str = ""
    since_ns: int = 0


def silence(state: CueState, t_ns: int) -> tuple[CueState, tuple[CueChanged, ...]]:
    """Say nothing from here on: what was known has been lost or broken off."""
    changed = () if state.channel is None else (CueChanged(t_ns, None, ""),)
    return CueState(), changed


def step(
    state: CueState, t_ns: int, live: Mapping[Channel, LiveChannel]
) -> tuple[CueState, CueChanged | None]:
    """Take in the required channels' live values; NaN = unknown, which cues nothing."""
    before = {one.channel: one for one in state.out}
    found = (_out(before.get(channel), t_ns, now) for channel, now in live.items())
    out = tuple(one for one in found if one is not None)
    wanted = _wanted(state, t_ns, out, live)
    direction = correction(live[wanted].value) if wanted is not None else ""
    kept = state.channel is not None and t_ns - state.since_ns < KEPT_AT_LEAST_NS
    if kept or (wanted is state.channel and direction == state.direction):
        return replace(state, out=out), None
    return CueState(out, wanted, direction, t_ns), CueChanged(t_ns, wanted, direction)


def _out(before: Out | None, t_ns: int, now: LiveChannel) -> Out | None:
    """Return how a channel is out now, None where it is not."""
    was_off = before is not None and not before.restless
    size = abs(now.value.deviation)
    is_off = not isnan(size) and size > (now.inner if was_off else now.tol)
    if not is_off and not now.value.restless:
        return None
    if before is not None and before.restless is not is_off:
        return before
    return Out(now.value.channel, t_ns, not is_off)


def _wanted(
    state: CueState, t_ns: int, out: tuple[Out, ...], live: Mapping[Channel, LiveChannel]
) -> Channel | None:
    """Return the channel that most needs correcting now."""
    leading_out = any(one.channel in LEADING and not one.restless for one in out)
    ready = [
        one.channel
        for one in out
        if (t_ns >= one.ready_ns or (one.channel is state.channel and not one.restless))
        and not (leading_out and one.channel in FOLLOWING)
    ]
    return max(ready, key=lambda c: abs(live[c].value.deviation) / live[c].tol, default=None)
