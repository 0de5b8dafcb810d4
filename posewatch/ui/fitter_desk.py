"""Does what the fitter's window asks for: captures, opens, changes, compares, keeps. Without Qt.

``target_edits`` says what a change comes to, this acts through the studio, the window paints.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import islice
from pathlib import Path

from posewatch.core.capture import Subject
from posewatch.core.envelope import Target
from posewatch.core.plane import plane_map
from posewatch.core.records import Channel
from posewatch.errors import BadInput, PosewatchError
from posewatch.pose.recorded import RecordedLandmarks
from posewatch.store.target_shelf import SavedTarget, list_targets, read_target, require_names
from posewatch.studio import Doing, Studio
from posewatch.ui import stroke_traces, target_edits
from posewatch.ui.fitter_view import path_name
from posewatch.ui.scene import Scene
from posewatch.ui.stroke_traces import Traces
from posewatch.ui.target_edits import Editing
from posewatch.watched_source import RECORDING_SUFFIX, Source

#: So many pictures of a recording are tracked at a poll: some 5 ms.
PICTURES_A_POLL = 15


class FitterDesk:
    """One fitter's work, for the thread of the windows.

    editing: the target on the table, None = none yet. other: a version to compare it with.
    recording: a clip or recorded landmarks to capture from, None = the camera chosen at set-up.
    traces: the last strokes against the target. note: the newest thing to know; it is a trouble
    where is_trouble is set.
    """

    def __init__(self, studio: Studio) -> None:
        self.studio = studio
        self.editing: Editing | None = None
        self.other: Target | None = None
        self.recording: Path | None = None
        self.traces: Traces | None = None
        self.note, self.is_trouble = "", False
        self.shelf: tuple[SavedTarget, ...] = ()
        self._wanted: Subject | None = None
        self._at_setup: Source | None = None
        self._capturing = False
        self._reading: Iterator[Traces] | None = None
        self.reload()

    @property
    def target(self) -> Target | None:
        """The target on the table."""
        return None if self.editing is None else self.editing.target

    @property
    def is_capturing(self) -> bool:
        """Whether a capture of this desk's is under way, or about to begin."""
        return self._capturing or self._wanted is not None

    @property
    def source(self) -> Source | None:
        """What is captured from; None = nothing is chosen."""
        at_setup = self._at_setup or self.studio.chosen.source
        if self.recording is None:
            return at_setup
        if at_setup is None:
            return Source(self.recording, self.studio.settings.model)
        return replace(at_setup, path=self.recording, live="", paced=False, start_s=0.0, end_s=None)

    def reload(self) -> None:
        """Look at the shelf again."""
        self.shelf = tuple(list_targets(self.studio.settings.data_folder))

    def say(self, note: str, is_trouble: bool = False) -> None:
        """Put something to know in the place of the last one."""
        self.note, self.is_trouble = note, is_trouble

    def capture_from(self, recording: Path | None) -> None:
        """Capture from a clip or recorded landmarks; None = from the camera chosen at set-up."""
        self.recording = recording

    def begin(self, subject: Subject) -> None:
        """Capture a target as soon as the camera is free; a preview is closed for it."""
        source = self.source
        if source is None:
            self.say("Choose a camera at set-up, or a recording here.", True)
        elif self.studio.doing in (Doing.WATCH, Doing.CAPTURE):
            self.say(f"The camera is in use ({self.studio.doing}): end that first.", True)
        elif self._attempt(lambda: require_names(subject.rider, subject.bike, subject.hands)):
            self._wanted = subject
            self.say("")

    def end_capture(self) -> None:
        """End the capture under way; what was ridden is worked out. One that waits is dropped."""
        self._wanted = None
        if self._capturing:
            self.studio.end()

    def follow(self, scene: Scene) -> None:
        """Do the next thing; call it at every poll."""
        if self._wanted is not None:
            self._begin_wanted()
        elif self._capturing and self.studio.doing is not Doing.CAPTURE:
            self._take_captured(scene)
        if scene.doing is Doing.WATCH and scene.target == self.target:
            self._trace(scene)
        if self._reading is not None:
            self._read_on(self._reading)

    def _begin_wanted(self) -> None:
        doing, source, subject = self.studio.doing, self.source, self._wanted
        if doing is Doing.PREVIEW:
            self.studio.end()
        elif doing is Doing.NOTHING and source is not None and subject is not None:
            self._at_setup, self._wanted = self.studio.chosen.source, None
            self.studio.choose(source=source)
            self.studio.capture(subject)
            self._capturing = True
        else:  # somebody else took the camera in the meantime
            self._wanted = None

    def _take_captured(self, scene: Scene) -> None:
        self._capturing = False
        source = self.studio.chosen.source
        # A watch must not go on with the recording that a target was captured from.
        self.studio.choose(source=self._at_setup)
        self._at_setup = None
        found, error = self.studio.captured, self.studio.error
        if found is None:
            words = scene.error or str(error or "")
            self.say(words or "Ended before anything was seen.", True)
            return
        self._put(target_edits.captured(self.editing, found))
        self.say(f"Captured {found.n_strokes} strokes. Look at the limits, then keep it.")
        if source is not None and source.is_recording:
            self._trace_recording(source)

    def open(self, name: str) -> None:
        """Put a saved target on the table and choose it for watching."""
        found = self._read(name)
        if found is not None:
            self._put(target_edits.opened(found))
            self.studio.choose(target=found)
            self.say(f"Opened {name}.")

    def clear(self) -> None:
        """Take the target off the table, unless something of it is not kept yet."""
        if self.editing is not None and self.editing.is_kept:
            self.editing = self.other = self.traces = self._reading = None
            self.say("")

    def compare(self, name: str) -> None:
        """Compare with a saved target; empty = with none."""
        self.other = self._read(name) if name else None

    def set_tolerance(self, channel: Channel, size: float) -> None:
        """Set a limit, in degrees or mm."""
        self._change(lambda editing: target_edits.with_tolerance(editing, channel, size))

    def set_required(self, channel: Channel, required: bool) -> None:
        """Make a channel required or advisory; the last required one stays."""
        self._change(lambda editing: target_edits.with_required(editing, channel, required))

    def set_note(self, note: str) -> None:
        """Set the note that is kept with the target."""
        self._change(lambda editing: target_edits.with_note(editing, note))

    def set_author(self, author: str) -> None:
        """Set who answers for the target."""
        self._change(lambda editing: target_edits.with_author(editing, author))

    def undo(self) -> None:
        """Take the last change back."""
        self._change(target_edits.undo)

    def redo(self) -> None:
        """Make the last change that was undone again."""
        self._change(target_edits.redo)

    def keep(self, all_the_same: bool) -> None:
        """Keep the target as a new version and choose it for watching.

        all_the_same: limits tighter than the noise too.
        """
        editing = self.editing
        why_not = target_edits.why_not_kept(editing, all_the_same)
        if editing is None or why_not:
            self.say(why_not, True)
            return
        kept: list[Target] = []
        if self._attempt(
            lambda: kept.append(self.studio.keep(replace(editing.target, created="")))
        ):
            self._put(target_edits.opened(kept[0]))
            self.reload()
            self.say(f"Kept as {path_name(kept[0])}.")

    def show_recording(self, path: Path) -> None:
        """Show the last strokes of recorded landmarks against the target."""
        if not path.name.endswith(RECORDING_SUFFIX):
            self.say(f"{path.name} is no recorded landmarks (*{RECORDING_SUFFIX}).", True)
            return
        at_setup = self.studio.chosen.source
        camera = None if at_setup is None else at_setup.camera
        source = Source(path, self.studio.settings.model, camera=camera)
        self._attempt(lambda: self._trace_recording(source))

    def _trace_recording(self, source: Source) -> None:
        target = self.target
        if target is None:
            return
        recorded = RecordedLandmarks(source.path)
        size = recorded.info.width_px, recorded.info.height_px
        if size != (target.chain.width_px, target.chain.height_px):
            raise BadInput(
                f"{source.path.name} is of pictures of {size[0]} x {size[1]}; the target's are of "
                f"{target.chain.width_px} x {target.chain.height_px}.",
                "Choose a recording of the same camera and mode.",
            )
        if (source.camera is None) is not (target.chain.view is None):
            raise BadInput(
                "The target and this recording were not seen with the same camera.",
                "Choose at set-up the camera that the target was captured with.",
            )
        plane = None if source.camera is None else plane_map(source.camera.profile)
        self._reading = stroke_traces.traced(recorded, target.chain, plane, target)

    def _read_on(self, reading: Iterator[Traces]) -> None:
        done = list(islice(reading, PICTURES_A_POLL))
        if done:
            self.traces = done[-1]
        if len(done) < PICTURES_A_POLL:
            self._reading = None

    def _trace(self, scene: Scene) -> None:
        if scene.shown is None or scene.shown.tracked is None or self.target is None:
            return
        if self.traces is None or self.traces.target != self.target:
            self.traces = stroke_traces.start(self.target)
        self.traces = stroke_traces.step(self.traces, scene.shown.tracked)

    def _put(self, editing: Editing) -> None:
        """Put another target, or the same one changed, on the table."""
        before = self.target
        self.editing = editing
        if before is None or not _same_measure(before, editing.target):
            self.traces = self._reading = None

    def _change(self, change: Callable[[Editing], Editing]) -> None:
        editing = self.editing
        if editing is not None:
            self._attempt(lambda: self._put(change(editing)))

    def _read(self, name: str) -> Target | None:
        found: list[Target] = []
        folder = self.studio.settings.data_folder
        self._attempt(lambda: found.append(read_target(name, folder)))
        return found[0] if found else None

    def _attempt(self, act: Callable[[], object]) -> bool:
        """Do something; what stands against it is said."""
        try:
            act()
        except PosewatchError as error:
            self.say(str(error), True)
            return False
        return True


def _same_measure(one: Target, other: Target) -> bool:
    """Tell whether strokes are the same against both: only limits or words differ."""
    return (one.crank, one.leg, one.segments, one.chain) == (
        other.crank,
        other.leg,
        other.segments,
        other.chain,
    )
