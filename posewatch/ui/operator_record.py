"""What the operator's window remembers from scene to scene. Without Qt.

It begins anew with each watch, and stays to be read after its end.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from posewatch.core import yield_loss
from posewatch.core.outputs import SmoothnessMean
from posewatch.core.records import Command
from posewatch.core.standing import Standing
from posewatch.core.yield_loss import YieldState
from posewatch.runtime.engine import Said
from posewatch.studio import Doing
from posewatch.ui import marks_view, messages_view, reason_view, weave_view
from posewatch.ui.health_view import Level
from posewatch.ui.marks_view import Marks
from posewatch.ui.messages_view import Message, Messages
from posewatch.ui.operator_view import State, flag_of, state_of
from posewatch.ui.readings import NO_POWER, PowerShown, take_power
from posewatch.ui.reason_view import Settled
from posewatch.ui.scene import Scene
from posewatch.ui.weave_view import WeaveView


@dataclass(frozen=True, slots=True)
class Record:
    """What is remembered.

    begun_ns, now_ns: monotonic clock, of the watch's beginning and of the last scene of it; 0 =
    there was none. state_ns: since when the state holds. standing: the watch's last. error: the
    last one that was told. flags: of the trial, each once: they cost no stroke. means: the newest
    of each figure of smoothness.
    """

    doing: Doing = Doing.NOTHING
    begun_ns: int = 0
    now_ns: int = 0
    state: State = State.CURTAIN
    state_ns: int = 0
    standing: Standing | None = None
    weave: WeaveView | None = None
    yielded: YieldState | None = None
    marks: Marks = ()
    messages: Messages = ()
    settled: Settled | None = None
    error: str = ""
    power: PowerShown = NO_POWER
    flags: tuple[str, ...] = ()
    means: tuple[SmoothnessMean, ...] = ()

    @property
    def elapsed_ns(self) -> int:
        """How long the watch under way, or the last one, has gone on."""
        return self.now_ns - self.begun_ns

    def session_ns(self, now_ns: int) -> int:
        """Return the session time at a moment of the monotonic clock, as near as it is known.

        The session's clock begins with the first picture, later than the watch.
        """
        if self.standing is None:
            return 0
        return self.standing.t_ns + max(0, now_ns - self.now_ns)


def take(record: Record, scene: Scene) -> Record:
    """Take in what a scene tells."""
    now_ns = scene.monotonic_ns
    if scene.doing is Doing.WATCH and record.doing is not Doing.WATCH:
        record = _begun(record, scene)
    if Doing.WATCH in (scene.doing, record.doing):
        # What the watch showed last may come to be seen only after its end.
        standing = None if scene.shown is None else scene.shown.standing
        record = replace(record, now_ns=now_ns, standing=standing or record.standing)
    power = take_power(record.power, scene.said, now_ns)
    record = replace(record, doing=scene.doing, power=power)
    for said in scene.said:
        record = _take_said(record, said)
    if scene.error != record.error:
        record = replace(record, error=scene.error)
        if scene.error:
            record = note(record, scene.error, Level.FAULT)
    state = state_of(scene)
    if state is not record.state or not record.state_ns:
        record = replace(record, state=state, state_ns=now_ns)
    settled = reason_view.settle(record.settled, reason_view.reason(scene), now_ns)
    return replace(record, settled=settled)


def _begun(record: Record, scene: Scene) -> Record:
    if scene.target is None:
        return record
    return replace(
        record,
        begun_ns=scene.monotonic_ns,
        standing=None,
        weave=weave_view.start(scene.target, scene.plan),
        yielded=yield_loss.start(scene.target, scene.plan),
        marks=(),
        power=NO_POWER,
        flags=(),
        means=(),
    )


def _take_said(record: Record, said: Said) -> Record:
    item, outputs = said.item, said.outputs
    for message in messages_view.found(item, outputs):
        record = replace(record, messages=messages_view.add(record.messages, message))
    flags = dict.fromkeys((*record.flags, *filter(None, map(flag_of, outputs))))
    means = {
        one.figure: one for one in (*record.means, *outputs) if isinstance(one, SmoothnessMean)
    }
    record = replace(record, flags=tuple(flags), means=tuple(means.values()))
    if isinstance(item, Command):
        record = replace(record, marks=marks_view.told(record.marks, item))
    if record.weave is None or record.yielded is None:
        return record
    return replace(
        record,
        weave=weave_view.step(record.weave, item, outputs),
        yielded=yield_loss.step(record.yielded, item, outputs),
    )


def note(record: Record, text: str, level: Level = Level.WARN) -> Record:
    """Put a message of the window's own on the strip."""
    message = Message(None, text, text, level)
    return replace(record, messages=messages_view.add(record.messages, message))
