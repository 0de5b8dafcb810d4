"""Handing over between real threads: the newest wins, nothing is lost, or what fits."""

from __future__ import annotations

import threading

import pytest

from posewatch.runtime.handover import HURRIED, Backlog, LatestSlot, UntilFull, Worker

LONG_S = 20.0


def in_thread(work: object) -> Worker:
    worker = Worker("capture", work)  # type: ignore[arg-type]
    worker.start()
    return worker


def test_the_latest_wins_and_losses_are_counted() -> None:
    slot: LatestSlot[int] = LatestSlot()
    assert all(slot.put(number) for number in range(5))
    assert slot.take() == 4
    assert slot.n_overwritten == 4
    slot.put(5)
    assert slot.take() == 5
    assert slot.n_overwritten == 4


def test_every_item_is_taken_or_counted_with_two_threads() -> None:
    slot: LatestSlot[int] = LatestSlot()
    n_items = 20_000

    def give() -> None:
        for number in range(n_items):
            slot.put(number)
        slot.close()

    giver = in_thread(give)
    taken = []
    while (item := slot.take()) is not None:
        taken.append(item)
    giver.join()
    assert taken == sorted(set(taken))
    assert taken[-1] == n_items - 1
    assert len(taken) + slot.n_overwritten == n_items


@pytest.mark.parametrize("size", [1, 3, 1000])
def test_a_backlog_loses_nothing_with_two_threads(size: int) -> None:
    backlog: Backlog[int] = Backlog(size)
    n_items = 5000

    def give() -> None:
        assert all(backlog.put(number) for number in range(n_items))
        backlog.close()

    giver = in_thread(give)
    taken = []
    while (item := backlog.take()) is not None:
        taken.append(item)
    giver.join()
    assert giver.error is None
    assert taken == list(range(n_items))
    assert backlog.n_overwritten == 0


def test_closing_wakes_a_giver_that_waits_for_room() -> None:
    backlog: Backlog[str] = Backlog(1)
    backlog.put("first")
    answers = []
    giver = in_thread(lambda: answers.append(backlog.put("second")))
    backlog.close()
    giver.join(LONG_S)
    assert answers == [False]
    assert (backlog.take(), backlog.take()) == ("first", None)


@pytest.mark.parametrize("make", [LatestSlot, lambda: Backlog(1)], ids=["slot", "backlog"])
def test_closing_wakes_a_taker_and_lets_it_have_what_is_left(make: object) -> None:
    handover = make()  # type: ignore[operator]
    took: list[object] = []
    begun = threading.Event()

    def take() -> None:
        took.append(handover.take())
        begun.set()
        took.append(handover.take())

    taker = in_thread(take)
    handover.put("only")
    assert begun.wait(LONG_S)
    handover.close()
    taker.join(LONG_S)
    assert took == ["only", None]
    assert not handover.put("too late")
    assert handover.take() is None


def test_a_worker_keeps_what_its_work_raised() -> None:
    def fail() -> None:
        raise KeyError("inside")

    worker = in_thread(fail)
    worker.join(LONG_S)
    assert isinstance(worker.error, KeyError)


def test_a_slot_of_two_rides_out_a_slow_moment() -> None:
    slot: LatestSlot[int] = LatestSlot(2)
    for item in range(100):
        assert slot.put(item)
        if item % 2:  # every other time the taker is late, and takes two
            assert [slot.take(), slot.take()] == [item - 1, item]
    assert slot.n_overwritten == 0


def test_a_taker_that_is_always_too_slow_gets_the_newest_alone() -> None:
    slot: LatestSlot[int] = LatestSlot(2)
    for item in range(3):
        slot.put(item)
    assert slot.n_overwritten == 1
    for item in range(3, HURRIED + 2):
        slot.put(item)
        assert len(slot) == 1
    assert slot.take() == HURRIED + 1
    # Not one was pushed out for a while: two may wait again.
    for item in range(HURRIED):
        slot.put(item)
        assert slot.take() == item
    slot.put(1)
    slot.put(2)
    slot.close()
    assert [slot.take(), slot.take(), slot.take()] == [1, 2, None]


def test_what_does_not_fit_is_not_taken_and_nobody_waits() -> None:
    given: UntilFull[int] = UntilFull(3)
    assert [given.put(number) for number in range(5)] == [True, True, True, False, False]
    assert given.take() == 0
    assert given.put(5)
    given.close()
    assert not given.put(6)
    assert [given.take() for _ in range(4)] == [1, 2, 5, None]
