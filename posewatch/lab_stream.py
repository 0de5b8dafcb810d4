"""The hold and the marks as a stream of the Lab Streaming Layer, for laboratories that record it.

One stream, of type "Markers" at an irregular rate, with one text for each event, as "hold: in
position @ 12.345 s": what happened, and the session seconds of it, by which it is found in the log
and in exports. Texts hold codes and numbers, never an outcome or an item's name. The library (extra
``lsl``) lets any program in the local network read along; nothing is sent unless somebody asks.
"""

from __future__ import annotations

import logging
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from types import TracebackType
from typing import Any, Protocol, Self
from uuid import uuid4

from posewatch import __version__
from posewatch.core.outputs import HoldGained, HoldLost, Output, Phase
from posewatch.core.pipeline import PipelineState
from posewatch.core.records import NS_PER_S, Command, CommandKind, Input
from posewatch.core.timebase import to_s
from posewatch.errors import BadInput
from posewatch.trials import acts
from posewatch.trials.acts import Act
from posewatch.trials.conduct_state import ConductState

logger = logging.getLogger(__name__)

STREAM_NAME = "posewatch"
STREAM_TYPE = "Markers"
#: So long the clocks are held against each other before the first event goes out: the first
#: pictures take longer than all others.
SETTLING_NS = 1 * NS_PER_S

#: An event: session time and words.
Event = tuple[int, str]


class Outlet(Protocol):
    """What is asked of an outlet of the streaming library."""

    def push_sample(self, sample: Sequence[str], timestamp: float) -> None: ...


@dataclass(slots=True)
class _Watch:
    """The watch under way. apart_s: the library's clock less the session's. waiting: to be sent."""

    first_ns: int
    last_ns: int = 0
    apart_s: float = math.inf
    phase: Phase | None = None
    n_marks: int = 0
    waiting: list[Event] = field(default_factory=list)


class LabStream:
    """The stream. One thread uses it at a time; a failure to send is logged and changes nothing.

    The library's clock is as far from the session's as the least that they were apart after an
    input was handled: late by the time that the quickest picture took.

    Args:
        outlet: sends. clock: the library's, s.
    """

    def __init__(self, outlet: Outlet, clock: Callable[[], float]) -> None:
        self._outlet: Outlet | None = outlet
        self._clock = clock
        self._watch: _Watch | None = None

    def seen(self, item: Input, state: PipelineState, outputs: tuple[Output, ...]) -> None:
        """Take in one input of a watch, the state after it, and what the pipeline said."""
        watch = self._watch
        if watch is None or item.t_ns < watch.last_ns:  # another one, whose clock begins anew
            self._send_waiting()
            watch = self._watch = _Watch(item.t_ns)
        watch.last_ns = item.t_ns
        watch.apart_s = min(watch.apart_s, self._clock() - to_s(item.t_ns))
        phase = state.judge.hold.phase
        watch.waiting += hold_events(item.t_ns, watch.phase, phase, outputs)
        watch.phase = phase
        if isinstance(item, Command):
            watch.n_marks += item.kind is CommandKind.MARK
            watch.waiting.append((item.t_ns, command_words(item, watch.n_marks)))
        if item.t_ns - watch.first_ns >= SETTLING_NS:
            self._send_waiting()

    def acted(self, act: Act, after: ConductState) -> None:
        """Take in an act of a visit as it is done, and the state after it."""
        words = act_words(act, after)
        if words:
            self._send(f"{words} @ visit {to_s(act.t_ns):.3f} s", self._clock())

    def close(self) -> None:
        """Send what waits and end the stream; twice is harmless."""
        self._send_waiting()
        self._outlet = None  # the library closes it with its last reference

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.close()

    def _send_waiting(self) -> None:
        watch = self._watch
        if watch is not None:
            for t_ns, words in watch.waiting:
                self._send(f"{words} @ {to_s(t_ns):.3f} s", watch.apart_s + to_s(t_ns))
            watch.waiting = []

    def _send(self, text: str, at_s: float) -> None:
        if self._outlet is None:
            return
        try:
            self._outlet.push_sample([text], at_s)
        except Exception:
            # Whatever the library answers, no watch may fail for it.
            logger.exception("Not sent to the lab stream: %s", text)


def open_lab_stream(source_id: str | None = None) -> LabStream:
    """Open the stream. source_id: tells it from others in the network, None = at random.

    Raises:
        BadInput: the library is missing or does not work here.
    """
    pylsl = _library()
    try:
        info = pylsl.StreamInfo(
            STREAM_NAME,
            STREAM_TYPE,
            1,
            pylsl.IRREGULAR_RATE,
            pylsl.cf_string,
            source_id or f"posewatch-{uuid4().hex}",
        )
        about = info.desc()
        about.append_child_value("program", f"posewatch {__version__}")
        about.append_child_value("format", "event @ session seconds, or @ visit seconds")
        about.append_child("channels").append_child("channel").append_child_value("label", "event")
        return LabStream(pylsl.StreamOutlet(info), pylsl.local_clock)
    except Exception as error:
        raise BadInput(
            f"The lab stream cannot be opened ({error}).", "Leave --lsl out, or see the network."
        ) from error


def _library() -> Any:
    try:
        import pylsl
    except (ImportError, OSError, RuntimeError) as error:
        # It raises RuntimeError where its own shared library is not found.
        raise BadInput(
            f"The lab stream needs the library pylsl, which cannot be loaded "
            f"({' '.join(str(error).split())}).",
            "Install it with `pip install 'posewatch[lsl]'`, or leave --lsl out.",
        ) from error
    return pylsl


def hold_events(
    t_ns: int, before: Phase | None, after: Phase, outputs: Sequence[Output]
) -> list[Event]:
    """Return what happened to the hold with one input. before: None = the watch begins."""
    found: list[Event] = []
    changed_ns = t_ns
    for output in outputs:
        if isinstance(output, HoldLost):
            channel = f", {output.channel}" if output.channel else ""
            found.append((output.t_ns, f"hold lost: {output.reason}{channel}"))
        if isinstance(output, HoldLost | HoldGained):
            changed_ns = output.t_ns
    if before is not after:
        found.append((changed_ns, f"hold: {after}"))
    return found


def command_words(command: Command, n_marks: int) -> str:
    """Return the words of an operator's command. n_marks: how many marks there are with it."""
    text = f": {command.text}" if command.text else ""
    match command.kind:
        case CommandKind.MARK:
            return f"mark {n_marks}{text}"
        case CommandKind.LABEL:
            return f"label of mark {command.text}"
        case CommandKind.WITHDRAW:
            return f"withdrawn: mark {command.text}"
    return f"{command.kind}{text}"


def act_words(act: Act, after: ConductState) -> str:
    """Return the words of an act of a visit, empty = it is not sent."""
    run = after.runs[-1] if after.runs else None
    if run is None:
        return ""
    trial = f"mounting {run.mounting}, trial {run.trial}, {run.hands}, attempt {run.attempt}"
    match act:
        case acts.TrialBegun():
            return f"trial begun: {trial}"
        case acts.TrialClosed():
            return f"trial closed: {trial}"
        case acts.RitualDone():
            return f"reset: {act.moment}"
        case acts.Waiting():
            return f"trial waits: {act.cause}"
        case acts.WaitOver():
            return "trial goes on"
    return ""
