"""A target out of clips or recordings of one rider on one bike."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from posewatch.core import capture as core_capture
from posewatch.core.capture import Subject
from posewatch.core.envelope import Target
from posewatch.core.records import Frame, SourceState
from posewatch.core.timebase import to_s
from posewatch.errors import BadInput
from posewatch.opening import open_frames
from posewatch.watched_source import Source


def capture_target(
    sources: Sequence[Source], subject: Subject, on_frame: Callable[[str, int, int], None]
) -> Target:
    """Return the target of clips or recordings of one chain, not yet saved.

    on_frame is called with a source's name and its numbers of frames done and expected (0 = not
    known).

    Raises:
        PosewatchError: a source cannot be used, or they hold no target together.
    """
    recordings, chains, plane = [], [], None
    for source in sources:
        frames: list[Frame] = []
        with open_frames(source) as opened:
            for item in opened.seen():
                if isinstance(item, SourceState):
                    raise moved_view(source, item)
                frames.append(item)
                on_frame(source.name, len(frames), opened.n_expected)
            chains.append(opened.chain)
            plane = opened.plane
        if not frames:
            raise BadInput(
                f"{source.name} is over before {source.start_s:g} s.", "Give an earlier start."
            )
        recordings.append(frames)
        differences = chains[0].differences(chains[-1])
        if differences:
            raise BadInput(
                f"{source.name} is of another measuring chain than {sources[0].name}: "
                f"{'; '.join(differences)}.",
                "Record all sits of a target with one chain.",
            )
    names = ", ".join(source.name for source in sources)
    return core_capture.capture(recordings, chains[0], plane, subject, names)


def moved_view(source: Source, state: SourceState) -> BadInput:
    """Return the refusal of a capture whose view changed."""
    return BadInput(
        f"The view changed {to_s(state.t_ns):.0f} s into {source.name}, so no target can come "
        f"of it. {state.text}",
        "Fix the camera and record again, or give --end to use what came before.",
    )
