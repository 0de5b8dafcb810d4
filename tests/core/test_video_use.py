"""What is told of a video: what is done to faces, and that the watch goes on."""

from __future__ import annotations

import pytest

from posewatch.core import video_use
from posewatch.core.records import VIDEO, SourceCondition, SourceState
from posewatch.core.video_use import VideoUse


@pytest.mark.parametrize(("blur", "words"), [(True, "faces blurred"), (False, "faces NOT blurred")])
def test_it_says_what_is_done_to_faces(blur: bool, words: str) -> None:
    told = video_use.begun_told(7, VideoUse("mark", blur))
    assert told == SourceState(7, VIDEO, SourceCondition.RUNNING, f"Video is being kept, {words}.")


@pytest.mark.parametrize(
    ("told", "says"),
    [
        (video_use.failed_told(7, "It broke."), "It broke. The watch goes on."),
        (video_use.full_told(7, 400_000_000), "only 400 MB are left"),
        (video_use.left_out_told(7), "the watch itself misses nothing"),
    ],
)
def test_whatever_becomes_of_it_is_no_matter_of_the_watch(told: SourceState, says: str) -> None:
    assert (told.t_ns, told.source) == (7, VIDEO)
    assert says in told.text
    assert told.condition is not SourceCondition.RUNNING
