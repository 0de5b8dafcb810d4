"""Pictures dealt to several models in turn."""

from __future__ import annotations

import threading
from collections.abc import Iterator

import pytest
from made_landmarks import INFO, MODEL, MadeEstimator, MadePictures, same_frames

from posewatch.core.records import VIEW, Frame, Seen, SourceCondition, SourceState
from posewatch.core.sources import FrameSource, PictureSource
from posewatch.errors import BadInput
from posewatch.pose.detected import DetectedFrames
from posewatch.runtime.dealing import FramesInTurn

TIMES_NS = tuple(range(0, 100, 10))


class Share:
    """Frames that carry the model's number in their time, with a word of the view before each."""

    def __init__(self, pictures: PictureSource, number: int, fail_at: int = -1) -> None:
        self.info, self.model = INFO, MODEL
        self.seen: list[int] = []
        self._pictures, self._number, self._fail_at = pictures, number, fail_at

    def __iter__(self) -> Iterator[Seen]:
        for picture in self._pictures:
            if len(self.seen) == self._fail_at:
                raise BadInput("The model fails.", "Try another.")
            self.seen.append(picture.t_ns)
            yield SourceState(picture.t_ns, VIEW, SourceCondition.RUNNING, str(self._number))
            yield MadeEstimator().detect(picture)

    def close(self) -> None:
        self._pictures.close()


def in_turn(fail_at: int = -1) -> tuple[FramesInTurn, list[Share]]:
    shares: list[Share] = []

    def open_model(number: int, pictures: PictureSource) -> FrameSource:
        shares.append(Share(pictures, number, fail_at if number == 1 else -1))
        return shares[-1]

    pictures = MadePictures(TIMES_NS)
    frames = FramesInTurn(pictures, [lambda p: open_model(0, p), lambda p: open_model(1, p)])
    return frames, shares


def test_each_model_has_every_other_picture_and_frames_come_in_order() -> None:
    frames, shares = in_turn()
    out = list(frames)
    frames.close()
    assert [one.t_ns for one in out if isinstance(one, Frame)] == list(TIMES_NS)
    assert [share.seen for share in shares] == [list(TIMES_NS[0::2]), list(TIMES_NS[1::2])]
    words = [one.text for one in out if isinstance(one, SourceState)]
    assert words == ["0", "1"] * (len(TIMES_NS) // 2)


def test_one_model_dealt_everything_finds_what_it_finds_alone() -> None:
    alone = list(DetectedFrames(MadePictures(TIMES_NS), MadeEstimator()))
    frames = FramesInTurn(
        MadePictures(TIMES_NS), [lambda pictures: DetectedFrames(pictures, MadeEstimator())]
    )
    dealt = list(frames)
    frames.close()
    assert same_frames(
        [f for f in alone if isinstance(f, Frame)], [f for f in dealt if isinstance(f, Frame)]
    )


def test_a_model_that_fails_is_told_and_leaves_no_thread() -> None:
    frames, _ = in_turn(fail_at=2)
    with pytest.raises(BadInput, match="The model fails"):
        list(frames)
    frames.close()


def test_a_model_that_does_not_open_closes_the_others() -> None:
    pictures = MadePictures(TIMES_NS)

    def refuses(_: PictureSource) -> FrameSource:
        raise BadInput("There is no such model.", "Use full.")

    with pytest.raises(BadInput, match="no such model"):
        FramesInTurn(pictures, [lambda p: Share(p, 0), refuses])
    assert pictures.n_closed == 1


def test_left_early_it_ends_all_threads() -> None:
    frames, _ = in_turn()
    next(iter(frames))
    frames.close()
    frames.close()
    assert not [t for t in threading.enumerate() if t.name in ("pose", "deal")]
