"""Pictures read on the capture thread."""

from __future__ import annotations

import threading
from collections.abc import Iterator

import pytest
from made_landmarks import INFO, TIMES_NS, MadePictures

from posewatch.core.sources import PictureSource, TimedPicture
from posewatch.errors import BadInput
from posewatch.runtime import clock
from posewatch.runtime.capture_thread import AHEAD, CapturedPictures

MANY_NS = tuple(33_000_000 * number for number in range(60))


def numbers(pictures: CapturedPictures) -> list[int]:
    return [int(picture.rgb[0, 0, 0]) for picture in pictures]


class Closing(MadePictures):
    """Tells on which thread it was read and closed."""

    def __init__(self, times_ns: tuple[int, ...] = TIMES_NS) -> None:
        super().__init__(times_ns)
        self.threads: set[str] = set()

    def __iter__(self) -> Iterator[TimedPicture]:
        for picture in super().__iter__():
            self.threads.add(threading.current_thread().name)
            yield picture

    def close(self) -> None:
        self.threads.add(threading.current_thread().name)
        super().close()


class Failing(MadePictures):
    def __iter__(self) -> Iterator[TimedPicture]:
        yield from super().__iter__()
        raise BadInput("The camera went away.", "Plug it in again.")


def test_every_picture_comes_in_order_when_not_paced() -> None:
    source = Closing(MANY_NS)
    pictures = CapturedPictures(lambda: source, paced=False)
    assert pictures.info == INFO
    assert numbers(pictures) == list(range(60))
    assert pictures.n_overwritten == 0
    pictures.close()
    assert source.threads == {"capture"}
    assert source.n_closed == 1


def test_an_error_of_the_source_comes_after_the_pictures_before_it() -> None:
    pictures = CapturedPictures(Failing, paced=False)
    seen: list[int] = []
    with pytest.raises(BadInput, match="The camera went away"):
        seen.extend(picture.t_ns for picture in pictures)
    assert seen == list(TIMES_NS)
    pictures.close()


def test_an_error_in_opening_reaches_the_caller_and_leaves_no_thread() -> None:
    def refuse() -> PictureSource:
        raise BadInput("There is no camera.", "Plug one in.")

    with pytest.raises(BadInput, match="There is no camera"):
        CapturedPictures(refuse, paced=False)
    assert "capture" not in {thread.name for thread in threading.enumerate()}


@pytest.mark.parametrize("paced", [False, True])
@pytest.mark.parametrize("n_taken", [0, 1])
def test_closing_ends_the_thread_in_the_middle(paced: bool, n_taken: int) -> None:
    hours_ns = tuple(3_600_000_000_000 * number for number in range(60))
    source = Closing(hours_ns if paced else MANY_NS)
    pictures = CapturedPictures(lambda: source, paced)
    taken = iter(pictures)
    for _ in range(n_taken):
        next(taken)
    pictures.close()
    pictures.close()
    assert source.n_closed == 1
    assert len(list(taken)) <= AHEAD


def test_paced_pictures_wait_for_their_time_and_count_what_is_overtaken(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The pose of the first picture takes until all the others have come."""
    waited: list[int] = []
    all_put = threading.Event()

    def wait_until(due_ns: int, stop: threading.Event) -> bool:
        waited.append(due_ns)
        if len(waited) == 2:
            assert first_taken.wait(20.0)
        return not stop.is_set()

    class Ending(MadePictures):
        def close(self) -> None:
            all_put.set()

    first_taken = threading.Event()
    monkeypatch.setattr(clock, "monotonic_ns", lambda: 1000)
    monkeypatch.setattr(clock, "wait_until", wait_until)
    pictures = CapturedPictures(lambda: Ending(MANY_NS), paced=True)
    assert not waited, "the pace begins when the first picture is asked for"
    handled = []
    for picture in pictures:
        handled.append(picture.t_ns)
        first_taken.set()
        assert all_put.wait(20.0)
    assert waited == [1000 + t_ns for t_ns in MANY_NS]
    assert handled == [MANY_NS[0], MANY_NS[-1]]
    assert pictures.n_overwritten == len(MANY_NS) - 2
    pictures.close()


def test_waiting_ends_early_only_when_stopped() -> None:
    stop = threading.Event()
    begun_ns = clock.monotonic_ns()
    assert clock.wait_until(begun_ns + 20_000_000, stop)
    assert clock.monotonic_ns() - begun_ns >= 20_000_000
    assert clock.wait_until(begun_ns, stop)
    stop.set()
    assert not clock.wait_until(clock.monotonic_ns() + 3_600_000_000_000, stop)
    assert not clock.wait_until(begun_ns, stop)
