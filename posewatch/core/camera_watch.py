"""Is the camera there, and are its pictures any good? Decided from glimpses at what it gives.

A camera that is unplugged may raise an error, give nothing, wait for ever, or repeat its last
picture; a room that darkens makes most webcams slower. Each is told once, with what to do.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from posewatch.core.clock_watch import duration_words
from posewatch.core.records import CAMERA, PICTURE, SourceCondition, SourceState
from posewatch.core.timebase import to_ns, to_s


@dataclass(frozen=True, slots=True)
class Glimpse:
    """What a live source measured up to now; times on the session clock.

    last_ns: of the newest picture. same_since_ns: since when pictures are alike to the byte, None
    = the newest is not as the one before. brightness: mean of the newest, 0 to 1. rate_hz: pictures
    a second over the last two, NaN = not known. why: why the source is not open, empty = it is.
    usual_hz: the rate when it was opened, NaN = not known. retry_ns: when it is tried next to open
    it, None = it is open, or is being opened.
    """

    last_ns: int
    same_since_ns: int | None
    brightness: float
    rate_hz: float
    why: str
    usual_hz: float = float("nan")
    retry_ns: int | None = None


@dataclass(frozen=True, slots=True)
class Limits:
    """From when on a camera is lost, slow or dark. Times in s, back_s longer than the first two.

    gone_s: without a picture; a webcam's longest usual exposure is 0.1 s, so half a second is no
    hiccup. frozen_s: of pictures alike to the byte, which a sensor's noise never gives. back_s: of
    pictures before a lost camera is believed to run. slow_share: of the usual rate; a webcam that
    exposes longer in a dim room drops to half. dark: mean brightness under which even the rider is
    near black (judged by eye; the demonstration's dim room has 0.27). lasting_s: that slow or
    dark, or good again, must last. clear: good again is so much better than the limit.
    """

    gone_s: float = 0.5
    frozen_s: float = 0.5
    back_s: float = 1.0
    slow_share: float = 0.8
    dark: float = 0.1
    lasting_s: float = 2.0
    clear: float = 1.1


#: A camera at the machine itself.
NEAR = Limits()
#: A camera in the network: Wi-Fi holds pictures back for a second now and then, and a video codec
#: repeats a still scene to the byte until its next whole picture.
NETWORK = Limits(gone_s=2.0, frozen_s=2.0, back_s=2.5)


@dataclass(frozen=True, slots=True)
class Lasting:
    """A condition that counts once it has lasted; since_ns: when it last seemed to turn."""

    active: bool = False
    since_ns: int | None = None


@dataclass(frozen=True, slots=True)
class CameraWatchState:
    """What was told, and the memory to tell.

    lost_ns: since when the camera is lost, None = it runs. told: what was said of this loss.
    fresh_ns: the first of the good pictures that now come in a row. last_told_ns: of the camera's
    last condition.
    """

    lost_ns: int | None = None
    told: frozenset[str] = frozenset()
    fresh_ns: int | None = None
    last_told_ns: int = 0
    slow: Lasting = Lasting()
    dark: Lasting = Lasting()
    picture: SourceCondition = SourceCondition.RUNNING


@dataclass(frozen=True, slots=True)
class _Loss:
    """Why the camera is lost at a moment, and the last good picture's time."""

    text: str
    since_ns: int


def step(
    state: CameraWatchState, t_ns: int, glimpse: Glimpse, limits: Limits
) -> tuple[CameraWatchState, tuple[SourceState, ...]]:
    """Take in a glimpse at time t_ns; return the conditions that changed.

    A loss is told at the time of the last good picture; a further reason for the same loss, and
    all else, at t_ns. While the camera is lost, nothing is said of its pictures.
    """
    loss = _loss(t_ns, glimpse, limits)
    if loss is not None:
        return _lose(state, t_ns, loss)
    if state.lost_ns is not None:
        return _recover(state, state.lost_ns, t_ns, glimpse, limits)
    return _judge_picture(state, t_ns, glimpse, limits)


def sleep(
    state: CameraWatchState, t_ns: int, since_ns: int, slept_ns: int
) -> tuple[CameraWatchState, tuple[SourceState, ...]]:
    """Take in that the machine slept, seen at t_ns: a camera is then lost until it proves to run.

    since_ns: when it was last known to be awake. The next picture may come before anybody notices
    that there was none for so long.
    """
    text = (
        f"This computer slept for {duration_words(slept_ns)}. Nothing of that time counts; switch "
        "its sleep off while somebody rides."
    )
    return _lose(state, t_ns, _Loss(text, since_ns))


def _loss(t_ns: int, glimpse: Glimpse, limits: Limits) -> _Loss | None:
    if glimpse.why:
        text = f"{glimpse.why} It is tried again every few seconds; check its plug or its network."
        return _Loss(text, glimpse.last_ns)
    same_ns = glimpse.same_since_ns
    if same_ns is not None and glimpse.last_ns - same_ns > to_ns(limits.frozen_s):
        text = (
            "The camera repeats one picture. Unplug it and plug it in again; restart a network "
            "camera."
        )
        return _Loss(text, same_ns)
    if t_ns - glimpse.last_ns > to_ns(limits.gone_s):
        text = (
            f"No picture has come from the camera for over {limits.gone_s:g} s. Check its plug or "
            "its network; if none comes, unplug it and plug it in again."
        )
        return _Loss(text, glimpse.last_ns)
    return None


def _lose(
    state: CameraWatchState, t_ns: int, loss: _Loss
) -> tuple[CameraWatchState, tuple[SourceState, ...]]:
    slow, dark = Lasting(state.slow.active), Lasting(state.dark.active)
    state = replace(state, fresh_ns=None, slow=slow, dark=dark)
    if loss.text in state.told:
        return state, ()
    first = state.lost_ns is None
    at_ns = max(loss.since_ns if first else t_ns, state.last_told_ns)
    state = replace(
        state,
        lost_ns=at_ns if first else state.lost_ns,
        told=state.told | {loss.text},
        last_told_ns=at_ns,
    )
    return state, (SourceState(at_ns, CAMERA, SourceCondition.LOST, loss.text),)


def _recover(
    state: CameraWatchState, lost_ns: int, t_ns: int, glimpse: Glimpse, limits: Limits
) -> tuple[CameraWatchState, tuple[SourceState, ...]]:
    fresh_ns = glimpse.last_ns if state.fresh_ns is None else state.fresh_ns
    if glimpse.last_ns - fresh_ns < to_ns(limits.back_s):
        return replace(state, fresh_ns=fresh_ns), ()
    text = f"The camera gives pictures again after {to_s(t_ns - lost_ns):.1f} s."
    state = replace(state, lost_ns=None, told=frozenset(), fresh_ns=None, last_told_ns=t_ns)
    return state, (SourceState(t_ns, CAMERA, SourceCondition.RUNNING, text),)


def _judge_picture(
    state: CameraWatchState, t_ns: int, glimpse: Glimpse, limits: Limits
) -> tuple[CameraWatchState, tuple[SourceState, ...]]:
    lasting_ns = to_ns(limits.lasting_s)
    share = glimpse.rate_hz / glimpse.usual_hz
    slow = _follow(state.slow, t_ns, share, limits.slow_share, limits.clear, lasting_ns)
    dark = _follow(state.dark, t_ns, glimpse.brightness, limits.dark, limits.clear, lasting_ns)
    condition = SourceCondition.RUNNING
    if slow.active:
        condition = SourceCondition.SLOW
    if dark.active:
        # First, since more light often cures the slowness too.
        condition = SourceCondition.DARK
    changed = condition is not state.picture
    state = replace(state, slow=slow, dark=dark, picture=condition)
    if not changed:
        return state, ()
    return state, (SourceState(t_ns, PICTURE, condition, _words(condition, glimpse)),)


def _follow(
    before: Lasting, t_ns: int, value: float, limit: float, clear: float, lasting_ns: int
) -> Lasting:
    """Follow whether a value is under its limit; NaN speaks for no change."""
    turns = value >= clear * limit if before.active else value < limit
    if not turns:
        return Lasting(before.active)
    if before.since_ns is None:
        return Lasting(before.active, t_ns)
    return before if t_ns - before.since_ns < lasting_ns else Lasting(not before.active)


def _words(condition: SourceCondition, glimpse: Glimpse) -> str:
    if condition is SourceCondition.DARK:
        return (
            f"The picture is dark, {100 * glimpse.brightness:.0f} % of full brightness: joints are "
            "seen badly. Switch on more light."
        )
    if condition is SourceCondition.SLOW:
        return (
            f"The camera gives {glimpse.rate_hz:.0f} pictures a second, and gave "
            f"{glimpse.usual_hz:.0f} at first. Give it more light or lock a short exposure; close "
            "other programs; bring a wireless camera nearer."
        )
    return "The pictures are bright enough and come fast enough again."
