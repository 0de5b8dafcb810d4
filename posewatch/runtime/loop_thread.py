"""A named thread that runs one asyncio loop; other threads hand it coroutines."""

from __future__ import annotations

import asyncio
import concurrent.futures
import logging
import threading
from collections.abc import Callable, Coroutine
from typing import Any, TypeVar

from posewatch.runtime.handover import Worker

logger = logging.getLogger(__name__)

T = TypeVar("T")

#: What is to be done last may take so long, and then tasks that were cancelled; the thread is left
#: behind if it takes much longer.
LAST_S = 1.5
END_S = 0.3
JOIN_S = 2.0


class LoopThread:
    """Runs a loop from now until it is closed; everything on it is made and used by its thread."""

    def __init__(self, name: str) -> None:
        self._loop = asyncio.new_event_loop()
        self._open = True
        self._last: Callable[[], Coroutine[Any, Any, None]] | None = None
        self._lock = threading.Lock()
        self._worker = Worker(name, self._run)
        self._worker.start()

    def ask(self, call: Coroutine[Any, Any, T]) -> concurrent.futures.Future[T]:
        """Let the loop run a coroutine; cancelling the future cancels it there.

        Raises:
            RuntimeError: the thread is closed.
        """
        with self._lock:
            if not self._open:
                call.close()
                raise RuntimeError(f"The thread {self._worker.name} is closed.")
            return asyncio.run_coroutine_threadsafe(call, self._loop)

    def close(self, last: Callable[[], Coroutine[Any, Any, None]] | None = None) -> bool:
        """End the thread; False = it hangs and is left behind.

        Takes no longer than JOIN_S; closing twice is harmless.

        Args:
            last: done first, while everything still runs; then what runs is cancelled.
        """
        with self._lock:
            if self._open:
                self._open = False
                self._last = last
                self._loop.call_soon_threadsafe(self._loop.stop)
        self._worker.join(JOIN_S)
        if self._worker.is_alive():
            logger.warning("The thread %s does not end and is left behind.", self._worker.name)
        return not self._worker.is_alive()

    # What follows runs on the thread.

    def _run(self) -> None:
        asyncio.set_event_loop(self._loop)
        try:
            self._loop.run_forever()
            self._loop.run_until_complete(self._end())
        finally:
            asyncio.set_event_loop(None)
            self._loop.close()

    async def _end(self) -> None:
        """Do what is to be done last, then cancel all tasks; wait for neither for long."""
        if self._last is not None:
            last = asyncio.create_task(self._last(), name="the last to be done")
            await asyncio.wait({last}, timeout=LAST_S)
        tasks = asyncio.all_tasks() - {asyncio.current_task()}
        for task in tasks:
            task.cancel()
        if not tasks:
            return
        _, left = await asyncio.wait(tasks, timeout=END_S)
        for task in left:
            logger.warning("A task did not end: %s", task.get_name())
