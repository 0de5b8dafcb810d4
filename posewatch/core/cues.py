"""The rider's cue: one correction at a time, with a direction, in body words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import isnan

from posewatch.core.outputs import ChannelValue, CueChanged
from posewatch.core.records import NS_PER_S, Channel

#: A channel must stay out this long before it cues, and a cue stays at least so long.
ON_AFTER_NS = int(0.3 * NS_PER_S)
KEPT_AT_LEAST_NS = 1 * NS_PER_S

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
class CueState:
    """Which channels are out, since when, and what the rider is told.

    out_since: channels beyond tol (and not yet back inside the inner limit), with the time.
    """

    out_since: tuple[tuple[Channel, int], ...] = ()
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
    before = dict(state.out_since)
    out: dict[Channel, int] = {}
    for channel, now in live.items():
        size = abs(now.value.deviation)
        limit = now.inner if channel in before else now.tol
        if not isnan(size) and size > limit:
            out[channel] = before.get(channel, t_ns)
    wanted = _wanted(state, t_ns, out, live)
    direction = correction(live[wanted].value) if wanted is not None else ""
    kept = state.channel is not None and t_ns - state.since_ns < KEPT_AT_LEAST_NS
    if kept or (wanted is state.channel and direction == state.direction):
        return CueState(tuple(out.items()), state.channel, state.direction, state.since_ns), None
    changed = CueState(tuple(out.items()), wanted, direction, t_ns)
    return changed, CueChanged(t_ns, wanted, direction)


def _wanted(
    state: CueState,
    t_ns: int,
    out: Mapping[Channel, int],
    live: Mapping[Channel, LiveChannel],
) -> Channel | None:
    """Return the channel that most needs correcting now."""
    leading_out = any(channel in LEADING for channel in out)
    ready = [
        channel
        for channel, since_ns in out.items()
        if (channel is state.channel or t_ns - since_ns >= ON_AFTER_NS)
        and not (leading_out and channel in FOLLOWING)
    ]
    return max(ready, key=lambda c: abs(live[c].value.deviation) / live[c].tol, default=None)
