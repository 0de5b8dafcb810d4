"""The link to one Bluetooth sensor: what to do next, and how it stands, decided from events.

A pure state machine. The shell asks what to do (:class:`Do`), does it, and tells what came of it;
time passes by :func:`tick`. A sensor that was lost is looked for until it is back.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

from posewatch.core.sensor_streams import Stream, next_check_ns, silent, with_value
from posewatch.core.timebase import to_ns


class Phase(StrEnum):
    """How a sensor stands, in a word for the operator."""

    SEARCHING = "searching"
    CONNECTING = "connecting"
    LIVE = "live"
    SILENT = "silent"
    LOST = "lost"
    TAKEN = "taken by another program"
    OFF = "Bluetooth is off"
    NO_SERVICE = "no Bluetooth service"
    NO_ADAPTER = "no Bluetooth adapter"
    NOT_ALLOWED = "Bluetooth is not allowed"


#: The phases in which Bluetooth itself stands in the way.
OBSTACLES = (Phase.OFF, Phase.NO_SERVICE, Phase.NO_ADAPTER, Phase.NOT_ALLOWED)


class Cause(StrEnum):
    """Why it stands so, as far as it can be told from here."""

    NONE = ""
    NOT_SEEN = "not seen"
    REFUSED = "refused"
    NOTHING_TO_READ = "nothing to read"
    NO_FIRST_VALUE = "no first value"
    #: The link was lost while values came and changed: seldom a sensor's own doing.
    SUDDEN = "sudden"
    #: The link was lost after the values had stood still: sensors that rest switch themselves off.
    AT_REST = "at rest"
    #: No value had come for a while when the link was lost, or the sensor answered nothing more.
    FADED = "faded"
    STOPPED = "stopped"


class Do(StrEnum):
    """What the shell does next."""

    LOOK = "look"
    OPEN = "open"
    STAY = "stay"
    PROBE = "probe"
    CLOSE = "close"


@dataclass(frozen=True, slots=True)
class LinkLimits:
    """Times in s.

    silent_s: without a value before a stream is silent; sensors send at least once a second.
    pauses_s: before each further look, the last one for all that follow. blocked_s: between looks
    while Bluetooth is off. patience_s: a sensor that is connected and stays silent is connected
    anew only this often, since some do not send while they stand still. rest_s: unchanged for so
    long, a sensor is at rest. fresh_s: a value this young tells that the link was good.
    """

    silent_s: float = 3.0
    pauses_s: tuple[float, ...] = (0.2, 0.5, 1.0, 1.5)
    blocked_s: float = 2.0
    patience_s: float = 30.0
    rest_s: float = 20.0
    fresh_s: float = 1.5


@dataclass(frozen=True, slots=True)
class Looked:
    """A look round was done."""

    found: bool


@dataclass(frozen=True, slots=True)
class Blocked:
    """Bluetooth cannot be used: one of OBSTACLES."""

    phase: Phase


@dataclass(frozen=True, slots=True)
class Opened:
    """The sensor is connected and these measurements were asked for."""

    characteristics: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Refused:
    """The sensor was seen and could not be connected, in time or at all."""


@dataclass(frozen=True, slots=True)
class Came:
    """A value came."""

    characteristic: str
    data: bytes


@dataclass(frozen=True, slots=True)
class Ended:
    """The link ended, not by our doing."""


@dataclass(frozen=True, slots=True)
class Probed:
    """A silent sensor was asked for something else."""

    answered: bool


@dataclass(frozen=True, slots=True)
class Closed:
    """What was left of the link is closed."""


LinkEvent = Looked | Blocked | Opened | Refused | Came | Ended | Probed | Closed


@dataclass(frozen=True, slots=True)
class LinkState:
    """How one sensor stands.

    since_ns: of the phase. due_ns: when to do what is to be done. n_misses: looks and refusals in
    a row, for the pauses. n_refused: of them, refusals. live_ns: when it last became live, None =
    never. last_ns: of its last value, ever. opened_ns: of this connection. tried: streams for whose
    silence the sensor was connected anew since they last gave a value.
    """

    phase: Phase = Phase.SEARCHING
    cause: Cause = Cause.NONE
    since_ns: int = 0
    do: Do = Do.LOOK
    due_ns: int = 0
    n_misses: int = 0
    n_refused: int = 0
    live_ns: int | None = None
    last_ns: int | None = None
    opened_ns: int = 0
    streams: tuple[Stream, ...] = ()
    tried: frozenset[str] = frozenset()

    @property
    def connected(self) -> bool:
        """Whether there is a connection that works."""
        return self.do in (Do.STAY, Do.PROBE)


def begin(t_ns: int) -> LinkState:
    """Return the state of a sensor that is wanted from now on."""
    return LinkState(since_ns=t_ns, due_ns=t_ns)


def step(state: LinkState, t_ns: int, event: LinkEvent, limits: LinkLimits) -> LinkState:
    """Take in what happened at t_ns."""
    match event:
        case Looked(found):
            return _looked(state, t_ns, found, limits)
        case Blocked(phase):
            return _blocked(state, t_ns, phase, limits)
        case Opened(characteristics):
            return _opened(state, t_ns, characteristics)
        case Refused():
            return _refused(state, t_ns)
        case Came(characteristic, data):
            return _came(state, t_ns, characteristic, data, limits)
        case Ended():
            return _ended(state, t_ns, limits) if state.connected else state
        case Probed(answered):
            if state.do is not Do.PROBE:
                return state  # a value came meanwhile, or the link ended
            tried = state.tried | _silent(state, t_ns, limits)
            if not answered:
                state = _turn(state, t_ns, Phase.LOST, Cause.FADED)
            return replace(state, do=Do.CLOSE, due_ns=t_ns, tried=tried)
        case Closed():
            pause_ns = _pause_ns(state.n_misses, limits)
            return replace(state, do=Do.LOOK, due_ns=t_ns + pause_ns, streams=())


def tick(state: LinkState, t_ns: int, limits: LinkLimits) -> LinkState:
    """Let time pass up to t_ns: values that no longer come make the sensor silent."""
    if state.do is not Do.STAY:
        return state
    mute = _silent(state, t_ns, limits)
    if not mute:
        return replace(state, due_ns=_check_ns(state, t_ns, limits))
    cause = Cause.NO_FIRST_VALUE if state.live_ns is None else Cause.STOPPED
    state = _turn(state, t_ns, Phase.SILENT, cause)
    anew_ns = t_ns
    if mute <= state.tried:
        last_ns = max([state.opened_ns, *(one.last_ns or 0 for one in state.streams)])
        anew_ns = last_ns + to_ns(limits.patience_s)
    if t_ns >= anew_ns:
        return replace(state, do=Do.PROBE, due_ns=t_ns)
    return replace(state, due_ns=anew_ns)


def _turn(state: LinkState, t_ns: int, phase: Phase, cause: Cause = Cause.NONE) -> LinkState:
    """Change the phase; since_ns stays where it does not change."""
    since_ns = state.since_ns if phase is state.phase else t_ns
    return replace(state, phase=phase, cause=cause, since_ns=since_ns)


def _pause_ns(n: int, limits: LinkLimits) -> int:
    """Return the pause after n failures in a row."""
    return to_ns(limits.pauses_s[min(n, len(limits.pauses_s)) - 1]) if n else 0


def _silent(state: LinkState, t_ns: int, limits: LinkLimits) -> frozenset[str]:
    return silent(state.streams, state.opened_ns, t_ns, to_ns(limits.silent_s))


def _check_ns(state: LinkState, t_ns: int, limits: LinkLimits) -> int:
    return next_check_ns(state.streams, state.opened_ns, t_ns, to_ns(limits.silent_s))


def _looked(state: LinkState, t_ns: int, found: bool, limits: LinkLimits) -> LinkState:
    if found:
        state = _turn(state, t_ns, Phase.CONNECTING, state.cause)
        return replace(state, do=Do.OPEN, due_ns=t_ns)
    n = state.n_misses + 1
    due_ns = t_ns + _pause_ns(n, limits)
    state = replace(state, do=Do.LOOK, due_ns=due_ns, n_misses=n, n_refused=0)
    if state.live_ns is None:
        return _turn(state, t_ns, Phase.SEARCHING, Cause.NOT_SEEN)
    known = state.cause in (Cause.SUDDEN, Cause.AT_REST, Cause.FADED)
    return _turn(state, t_ns, Phase.LOST, state.cause if known else Cause.NOT_SEEN)


def _blocked(state: LinkState, t_ns: int, phase: Phase, limits: LinkLimits) -> LinkState:
    assert phase in OBSTACLES
    do = Do.LOOK if state.do is Do.LOOK else Do.CLOSE
    due_ns = t_ns if do is Do.CLOSE else t_ns + to_ns(limits.blocked_s)
    return replace(_turn(state, t_ns, phase), do=do, due_ns=due_ns, n_misses=0, n_refused=0)


def _opened(state: LinkState, t_ns: int, characteristics: tuple[str, ...]) -> LinkState:
    if not characteristics:
        state = _turn(state, t_ns, Phase.LOST, Cause.NOTHING_TO_READ)
        return replace(state, do=Do.CLOSE, due_ns=t_ns, n_misses=state.n_misses + 1)
    streams = tuple(Stream(one) for one in characteristics)
    state = _turn(state, t_ns, Phase.CONNECTING)
    return replace(state, do=Do.STAY, due_ns=t_ns, opened_ns=t_ns, streams=streams)


def _refused(state: LinkState, t_ns: int) -> LinkState:
    """Seen twice and not let in: somebody else is."""
    n = state.n_refused + 1
    phase = Phase.TAKEN if n > 1 else Phase.CONNECTING
    state = _turn(state, t_ns, phase, Cause.REFUSED)
    n_misses = state.n_misses + 1
    return replace(state, do=Do.CLOSE, due_ns=t_ns, n_refused=n, n_misses=n_misses)


def _came(
    state: LinkState, t_ns: int, characteristic: str, data: bytes, limits: LinkLimits
) -> LinkState:
    if not state.connected or all(one.characteristic != characteristic for one in state.streams):
        return state
    streams = with_value(state.streams, t_ns, characteristic, data)
    tried = state.tried - {characteristic}
    state = replace(state, streams=streams, tried=tried, last_ns=t_ns, n_misses=0, n_refused=0)
    if _silent(state, t_ns, limits):
        return state
    live_ns = state.live_ns if state.phase is Phase.LIVE else t_ns
    state = replace(_turn(state, t_ns, Phase.LIVE), do=Do.STAY, live_ns=live_ns)
    return replace(state, due_ns=_check_ns(state, t_ns, limits))


def _ended(state: LinkState, t_ns: int, limits: LinkLimits) -> LinkState:
    """Tell the likely cause from how the values were up to then."""
    last_ns = max((one.last_ns for one in state.streams if one.last_ns is not None), default=None)
    if last_ns is None:
        return _refused(state, t_ns)
    changed_ns = max(one.changed_ns for one in state.streams)
    if t_ns - last_ns > to_ns(limits.fresh_s):
        cause = Cause.FADED
    elif t_ns - changed_ns > to_ns(limits.rest_s):
        cause = Cause.AT_REST
    else:
        cause = Cause.SUDDEN
    return replace(_turn(state, t_ns, Phase.LOST, cause), do=Do.CLOSE, due_ns=t_ns)
