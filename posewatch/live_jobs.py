"""What the engine does besides watching: looking, and capturing a target while it is ridden."""

from __future__ import annotations

from posewatch.awake import kept_awake
from posewatch.capturing import moved_view
from posewatch.core import capture as core_capture
from posewatch.core import capture_progress, tracking
from posewatch.core.capture import Subject
from posewatch.core.envelope import Target
from posewatch.core.records import VIEW, Frame, SourceCondition, SourceState
from posewatch.opening import open_frames
from posewatch.runtime.attended import POLL_S, attended
from posewatch.runtime.engine import Post, Said
from posewatch.runtime.overseeing import Oversight, RecentPictures
from posewatch.runtime.showing import Showing
from posewatch.watched_source import Source


def look(source: Source, post: Post) -> None:
    """Open a source and show what is seen, until it ends or the post says stop.

    Raises:
        PosewatchError: the source or the model cannot be used.
    """
    pictures = RecentPictures()
    showing = Showing(post, pictures)
    oversight = Oversight(post.stop, pictures, post.health, POLL_S)
    with open_frames(source, oversight) as opened:
        state = tracking.start(opened.chain, opened.plane)
        post.chain = opened.chain
        post.ready.set()
        tracked = None
        for item in attended(opened.part, post.controls, post.stop, opened.live):
            if isinstance(item, Frame):
                state, tracked = tracking.step(state, item)
            elif isinstance(item, SourceState):
                post.said.append(Said(item, ()))
            post.health.note_log(None, opened.lost)
            showing.show(item, tracked, None)


def capture_live(source: Source, subject: Subject, post: Post) -> Target | None:
    """Capture what is ridden until the source ends or the post says stop; the target is not kept.

    ``post.counted`` says what there is so far. None = stopped before anything was seen.

    Raises:
        PosewatchError: the source cannot be used, the camera moved, or it holds no target.
    """
    pictures = RecentPictures()
    showing = Showing(post, pictures)
    oversight = Oversight(post.stop, pictures, post.health, POLL_S)
    recordings: list[list[Frame]] = [[]]
    with kept_awake(), open_frames(source, oversight) as opened:
        state = tracking.start(opened.chain, opened.plane)
        counted = capture_progress.start()
        post.chain = opened.chain
        post.ready.set()
        tracked = None
        for item in attended(opened.part, post.controls, post.stop, opened.live):
            if isinstance(item, Frame):
                recordings[-1].append(item)
                state, tracked = tracking.step(state, item)
                counted = capture_progress.step(counted, tracked)
                post.counted = counted
                post.progress = (counted.n_strokes, capture_progress.STROKES_WANTED)
            elif isinstance(item, SourceState):
                if item.source == VIEW and item.condition is not SourceCondition.RUNNING:
                    raise moved_view(source, item)
                if item.condition is SourceCondition.LOST:
                    recordings.append([])  # nothing may be read across the gap
                post.said.append(Said(item, ()))
            post.health.note_log(None, opened.lost)
            showing.show(item, tracked, None)
        chain, plane = opened.chain, opened.plane
    ridden = [frames for frames in recordings if frames]
    if not ridden:
        return None
    return core_capture.capture(ridden, chain, plane, subject, source.name)
