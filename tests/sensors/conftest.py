"""One piece of virtual air a test, on a loop of the test's own."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable

import pytest
from followed_sensors import Followed


@pytest.fixture
def air() -> Callable[[Callable[[Followed], Awaitable[None]]], None]:
    """Run a scenario in a studio of its own; everything that it leaves running is ended."""

    def run(scenario: Callable[[Followed], Awaitable[None]], limit_s: float = 20.0) -> None:
        async def whole() -> None:
            followed = Followed()
            try:
                await asyncio.wait_for(scenario(followed), limit_s)
            finally:
                for one in followed.roster.statuses():
                    await followed.roster.forget(one.choice)
            followed.check_air()

        asyncio.run(whole())

    return run
