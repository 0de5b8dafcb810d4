"""Calls to Bluetooth: how long they may take, and how they end when they do not end well."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Coroutine
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, TypeVar

from posewatch.core.sensor_link import Phase

logger = logging.getLogger(__name__)

T = TypeVar("T")

#: A call that was given up gets so long to end before it is left behind.
GIVE_UP_S = 0.5


class RadioBlocked(Exception):
    """Bluetooth cannot be used; phase says which obstacle it is."""

    def __init__(self, phase: Phase, detail: str) -> None:
        super().__init__(f"{phase}: {detail}")
        self.phase = phase


class CallFailed(Exception):
    """One call failed or took too long; another try may do."""


@dataclass(frozen=True, slots=True)
class CallLimits:
    """How long calls may take, in s."""

    scan_call_s: float = 5.0
    open_s: float = 10.0
    call_s: float = 5.0
    probe_s: float = 2.0
    close_s: float = 3.0


async def ended(call: Coroutine[Any, Any, T], limit_s: float) -> asyncio.Future[T]:
    """Wait for a call, but no longer than limit_s; return it ended, however that was.

    One that will not be cancelled is left behind.

    Raises:
        CallFailed: it took too long.
    """
    task = asyncio.ensure_future(call)
    try:
        done, _ = await asyncio.wait({task}, timeout=limit_s)
    except asyncio.CancelledError:
        await _given_up(task)
        raise
    if not done:
        await _given_up(task)
        raise CallFailed(f"no answer within {limit_s:g} s")
    return task


async def _given_up(task: asyncio.Future[Any]) -> None:
    task.cancel()
    task.add_done_callback(_look_at)
    with suppress(asyncio.CancelledError):
        await asyncio.wait({task}, timeout=GIVE_UP_S)


def _look_at(task: asyncio.Future[Any]) -> None:
    """Take an error that nobody waits for, so that asyncio does not print it."""
    if not task.cancelled() and task.exception() is not None:
        logger.debug("a call that was given up ended with %r", task.exception())
