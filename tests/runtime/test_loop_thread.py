"""One loop on one named thread, and that it ends."""

from __future__ import annotations

import asyncio
import threading
import time

import pytest

from posewatch.runtime.loop_thread import JOIN_S, LoopThread


async def thread_name() -> str:
    return threading.current_thread().name


def test_coroutines_run_on_the_thread_and_their_results_come_back() -> None:
    thread = LoopThread("sensors")
    try:
        assert thread.ask(thread_name()).result(2.0) == "sensors"
    finally:
        assert thread.close()


def test_closing_cancels_what_runs_and_lets_it_tidy_up() -> None:
    tidied = threading.Event()
    begun = threading.Event()

    async def run() -> None:
        try:
            begun.set()
            await asyncio.Event().wait()
        finally:
            await asyncio.sleep(0)
            tidied.set()

    thread = LoopThread("sensors")
    asked = thread.ask(run())
    assert begun.wait(2.0)
    assert thread.close()
    assert thread.close()
    assert tidied.is_set()
    assert asked.cancelled()


def test_what_is_last_runs_before_anything_is_cancelled() -> None:
    order: list[str] = []

    async def run() -> None:
        try:
            await asyncio.Event().wait()
        finally:
            order.append("cancelled")

    async def last() -> None:
        await asyncio.sleep(0.01)
        order.append("last")

    thread = LoopThread("sensors")
    thread.ask(run())
    thread.ask(thread_name()).result(2.0)
    assert thread.close(last)
    assert order == ["last", "cancelled"]


def test_what_is_last_does_not_keep_the_thread_for_ever() -> None:
    async def last() -> None:
        await asyncio.Event().wait()

    thread = LoopThread("sensors")
    begun_s = time.monotonic()
    assert thread.close(last)
    assert time.monotonic() - begun_s < JOIN_S


def test_a_task_that_will_not_end_does_not_keep_the_thread() -> None:
    begun = threading.Event()

    async def stubborn() -> None:
        begun.set()
        for _ in range(10**6):
            try:
                await asyncio.Event().wait()
            except asyncio.CancelledError:
                if closing.is_set():
                    continue
                raise

    closing = threading.Event()
    thread = LoopThread("sensors")
    thread.ask(stubborn())
    assert begun.wait(2.0)
    closing.set()
    begun_s = time.monotonic()
    thread.close()
    assert time.monotonic() - begun_s < JOIN_S + 0.5
    closing.clear()


def test_after_closing_nothing_is_taken() -> None:
    thread = LoopThread("sensors")
    thread.close()
    with pytest.raises(RuntimeError, match="is closed"):
        thread.ask(thread_name())
