"""The air that all sensors share: one scan, or one attempt to connect, at a time.

Whoever looks for a sensor joins the scan that runs. It ends when a sensor was found, since stacks
refuse ("InProgress") to connect while they scan; the others' search goes on after that.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable, Collection
from contextlib import suppress
from dataclasses import dataclass, field

from posewatch.core.sensor_choice import SensorChoice, Sighting, is_it, pick
from posewatch.sensors.calls import CallFailed, RadioBlocked
from posewatch.sensors.client import Connection, Radio

logger = logging.getLogger(__name__)

#: Between two scans, so that whoever was found connects first.
BETWEEN_S = 0.05


@dataclass(slots=True)
class _Wish:
    """Somebody looks for a sensor; left_s: of scanning until it is taken as not there."""

    choice: SensorChoice
    others: Collection[str]
    left_s: float
    found: asyncio.Future[Sighting | None] = field(default_factory=lambda: _new_future())


def _new_future() -> asyncio.Future[Sighting | None]:
    return asyncio.get_running_loop().create_future()


class Air:
    """Shares a radio between the sensors that are looked for and connected; of one loop.

    Args:
        look_s: a look for one sensor takes so long at most.
        grace_s: once one was found, others that are near are given so long to be found as well.
    """

    def __init__(self, radio: Radio, look_s: float, grace_s: float) -> None:
        self._radio = radio
        self._look_s = look_s
        self._grace_s = grace_s
        self._lock = asyncio.Lock()
        self._wishes: list[_Wish] = []
        self._rounds: asyncio.Task[None] | None = None

    async def find(self, choice: SensorChoice, others: Collection[str] = ()) -> Sighting | None:
        """Look for a sensor; None = it was not seen in a whole look.

        Args:
            others: platform ids that belong to other choices.

        Raises:
            RadioBlocked: Bluetooth cannot be used.
            CallFailed: the scan failed.
        """
        wish = _Wish(choice, others, self._look_s)
        self._wishes.append(wish)
        if self._rounds is None or self._rounds.done():
            self._rounds = asyncio.create_task(self._look_on(), name="look for sensors")
        try:
            return await wish.found
        finally:
            self._wishes.remove(wish)

    async def open(self, platform_id: str, ended: Callable[[], None]) -> Connection:
        """Connect to a sensor that was found; as :meth:`Radio.open`."""
        async with self._lock:
            return await self._radio.open(platform_id, ended)

    async def survey(
        self, seconds: float, saw: Callable[[Sighting], None] = lambda _: None
    ) -> dict[str, Sighting]:
        """Scan for so long; return everything that was seen, by platform id.

        Args:
            saw: called at once with each new or changed sighting.

        Raises:
            RadioBlocked: Bluetooth cannot be used.
            CallFailed: the scan failed.
        """
        seen: dict[str, Sighting] = {}

        def heard(one: Sighting) -> None:
            before = seen.get(one.platform_id)
            if before is not None:
                one = _together(before, one)
            if one != before:
                seen[one.platform_id] = one
                saw(one)

        async with self._lock, self._radio.scanning(heard):
            for one in await self._linked():
                heard(one)
            await asyncio.sleep(seconds)
        return seen

    async def _look_on(self) -> None:
        """Scan round after round while anybody looks for a sensor."""
        while self._wishes:
            try:
                async with self._lock:
                    await self._look_once()
            except (RadioBlocked, CallFailed) as error:
                for wish in self._open_wishes():
                    wish.found.set_exception(error)
            except Exception as error:
                logger.exception("A scan failed.")
                for wish in self._open_wishes():
                    wish.found.set_exception(CallFailed(repr(error)))
            await asyncio.sleep(BETWEEN_S)

    async def _look_once(self) -> None:
        if not self._open_wishes():
            return
        seen: dict[str, Sighting] = {}
        one_found = asyncio.Event()

        def heard(one: Sighting) -> None:
            seen[one.platform_id] = one
            for wish in self._open_wishes():
                if is_it(wish.choice, one):
                    wish.found.set_result(one)
                    one_found.set()

        loop = asyncio.get_running_loop()
        begun_s = loop.time()
        async with self._radio.scanning(heard):
            for one in await self._linked():
                heard(one)
            waiting = self._open_wishes()
            longest_s = min((wish.left_s for wish in waiting), default=0.0)
            with suppress(TimeoutError):
                async with asyncio.timeout(longest_s):
                    await one_found.wait()
                await asyncio.sleep(self._grace_s)
            looked_s = loop.time() - begun_s
        for wish in waiting:
            if wish.found.done():
                continue
            wish.left_s -= looked_s
            if wish.left_s <= 0:
                wish.found.set_result(pick(wish.choice, seen.values(), wish.others))

    async def _linked(self) -> list[Sighting]:
        try:
            return await self._radio.linked()
        except CallFailed as error:
            logger.info("It could not be found out which sensors are linked: %s", error)
            return []

    def _open_wishes(self) -> list[_Wish]:
        return [wish for wish in self._wishes if not wish.found.done()]


def _together(before: Sighting, now: Sighting) -> Sighting:
    """Join two sightings of one sensor: names and services may come in turns."""
    rssi_dbm = before.rssi_dbm if now.rssi_dbm is None else now.rssi_dbm
    return Sighting(
        now.name or before.name,
        now.platform_id,
        rssi_dbm,
        before.services | now.services,
        before.elsewhere or now.elsewhere,
    )
