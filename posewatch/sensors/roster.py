"""All sensors that are in use, on the loop of the thread ``sensors``."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable, Collection
from contextlib import suppress
from dataclasses import dataclass, field, replace

from posewatch.core import trainer_control
from posewatch.core.meter_offset import OffsetEvent, OffsetPlan
from posewatch.core.sensor_choice import SensorChoice, Service, Sighting, by_strength
from posewatch.core.sensor_link import LinkLimits, Phase
from posewatch.core.sensor_records import Packet
from posewatch.core.sensor_source import SensorEvent
from posewatch.core.trainer_state import ControlLimits, ControlState
from posewatch.sensors.air import Air
from posewatch.sensors.calls import CallFailed, CallLimits, RadioBlocked
from posewatch.sensors.client import Backend, Radio
from posewatch.sensors.meter_zero import MeterZero, Zeroed
from posewatch.sensors.sensor_link import SensorLink, SensorStatus
from posewatch.sensors.trainer_hold import TrainerHold

logger = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class RosterLimits:
    """Limits of links, calls and control; look_s, grace_s: as in ``Air``."""

    link: LinkLimits = field(default_factory=LinkLimits)
    call: CallLimits = field(default_factory=CallLimits)
    look_s: float = 4.0
    grace_s: float = 0.2
    control: ControlLimits = field(default_factory=ControlLimits)
    offset: OffsetPlan = field(default_factory=OffsetPlan)


@dataclass(frozen=True, slots=True)
class Survey:
    """What a scan came to.

    seen: the strongest first. obstacle: why Bluetooth cannot be used, None = it can. problem: for
    the log or a technician, empty = none.
    """

    seen: tuple[Sighting, ...] = ()
    obstacle: Phase | None = None
    problem: str = ""


@dataclass(frozen=True, slots=True)
class Tried:
    """What a sensor said when it was tried: services, and the last packet of each kind, raw.

    phase, text: how its link stood at the end.
    """

    services: frozenset[Service]
    last: dict[str, Packet]
    phase: Phase
    text: str


class Roster:
    """Follows the sensors that were chosen; made and used on one loop.

    Args:
        now_ns: the monotonic clock.
        put: takes packets and conditions from all sensors; must not wait.
    """

    def __init__(
        self,
        now_ns: Callable[[], int],
        put: Callable[[SensorEvent], None],
        backend: Backend | None = None,
        limits: RosterLimits | None = None,
    ) -> None:
        self._now_ns = now_ns
        self._put = put
        self._limits = limits or RosterLimits()
        self._air = Air(
            Radio(backend, self._limits.call), self._limits.look_s, self._limits.grace_s
        )
        self._links: dict[SensorLink, asyncio.Task[None]] = {}
        self._holds: dict[SensorLink, TrainerHold] = {}
        self._zeros: dict[SensorLink, MeterZero] = {}

    async def use(self, choice: SensorChoice) -> None:
        """Follow a sensor from now on; one that is followed already is left as it is."""
        if any(_same(link.choice, choice) for link in self._links):
            return
        name = choice.name
        if any(link.name == name for link in self._links):
            name = f"{choice.name} ({choice.platform_id})"
        link = SensorLink(
            choice, name, self._air, self._limits.link, self._now_ns, self._take, self._platform_ids
        )
        task = asyncio.create_task(link.follow(), name=f"follow {choice.name}")
        task.add_done_callback(_look_at)
        # A new one each time, so that any thread may read it.
        self._links = {**self._links, link: task}

    async def forget(self, choice: SensorChoice) -> None:
        """Let go of a sensor; one that is not followed is no error."""
        leaving = {link: one for link, one in self._links.items() if _same(link.choice, choice)}
        self._links = {link: one for link, one in self._links.items() if link not in leaving}
        for link, task in leaving.items():
            task.cancel()
            # It lets a trainer go before its link is closed.
            await asyncio.wait({task})
            self._zeros.pop(link, None)
            hold = self._holds.pop(link, None)
            if hold is not None:
                hold.close()

    async def close(self) -> None:
        """Let go of all sensors at once."""
        tasks, self._links = set(self._links.values()), {}
        for task in tasks:
            task.cancel()
        if tasks:
            await asyncio.wait(tasks)
        for hold in self._holds.values():
            hold.close()
        self._holds.clear()

    def _take(self, event: SensorEvent) -> None:
        """Take in what comes of a sensor."""
        self._put(event)
        if isinstance(event, Packet):
            for hold in self._holds.values():
                hold.heard(event)

    async def hold_power(
        self,
        choice: SensorChoice,
        watts: int,
        confirmed: bool = False,
        cadence_rpm: float | None = None,
    ) -> ControlState:
        """Let a trainer hold a power, or confirm the raise that was asked for; wait for it.

        cadence_rpm: planned with it, None = none is.

        Raises:
            RadioBlocked, CallFailed: it gives no values, or cannot be controlled.
        """
        link = self._live(choice)
        if link not in self._holds:
            hold = TrainerHold(link, self._now_ns, self._put, self._limits.control)
            self._holds = {**self._holds, link: hold}
        return await self._holds[link].hold(watts, confirmed, cadence_rpm)

    async def release(self, choice: SensorChoice) -> ControlState:
        """Let a trainer go and wait until that is done; one that is not held is no error."""
        for link, hold in self._holds.items():
            if _same(link.choice, choice):
                return await hold.release()
        return trainer_control.OFF

    def hold_state(self, choice: SensorChoice) -> ControlState:
        """Return how a trainer is held; for any thread."""
        held = (hold.state for link, hold in self._holds.items() if _same(link.choice, choice))
        return next(held, trainer_control.OFF)

    def known_holds(self, t_ns: int) -> list[SensorEvent]:
        """Return the powers that are held, as of t_ns; for any thread."""
        return [event for hold in self._holds.values() for event in hold.known(t_ns)]

    async def zero_offset(self, choice: SensorChoice, insisted: bool = False) -> Zeroed:
        """Take a power meter's zero offset; insisted: although it was warned of.

        Raises:
            CallFailed: it gives no values.
        """
        return await self._zero(self._live(choice)).take(insisted)

    async def tell_meter(self, choice: SensorChoice, event: OffsetEvent | None) -> tuple[str, ...]:
        """Tell what matters to a meter's offset, None = time passed; return what to say of it."""
        link = next((link for link in self._links if _same(link.choice, choice)), None)
        return () if link is None else self._zero(link).tell(event)

    def _zero(self, link: SensorLink) -> MeterZero:
        if link not in self._zeros:
            self._zeros[link] = MeterZero(link, self._now_ns, self._put, self._limits.offset)
        return self._zeros[link]

    def _live(self, choice: SensorChoice) -> SensorLink:
        """Return the link of a sensor that gives values.

        Raises:
            CallFailed: it does not, or is not followed.
        """
        for link in self._links:
            if _same(link.choice, choice):
                status = link.status()
                if status.phase is Phase.LIVE:
                    return link
                raise CallFailed(status.text)
        raise CallFailed(f"{choice.name} is not in use")

    async def survey(
        self, seconds: float, saw: Callable[[Sighting], None] = lambda _: None
    ) -> Survey:
        """Scan; sensors that are followed here are not told as taken by others."""
        seen: dict[str, Sighting] = {}

        def told(one: Sighting) -> None:
            if one.platform_id in self._platform_ids():
                one = replace(one, elsewhere=False)
            seen[one.platform_id] = one
            saw(one)

        obstacle, problem = None, ""
        try:
            await self._air.survey(seconds, told)
        except RadioBlocked as error:
            obstacle, problem = error.phase, str(error)
        except CallFailed as error:
            problem = str(error)
        return Survey(by_strength(seen.values()), obstacle, problem)

    async def try_out(self, choice: SensorChoice, seconds: float) -> Tried:
        """Connect to a sensor for a moment to read its battery and its first values.

        One that is in use is asked what it knows.
        """
        for link in self._links:
            if _same(link.choice, choice):
                return _tried(link.status())
        link = SensorLink(
            choice, choice.name, self._air, self._limits.link, self._now_ns, lambda _: None
        )
        task = asyncio.create_task(link.follow(), name=f"try {choice.name}")
        try:
            with suppress(TimeoutError):
                async with asyncio.timeout(seconds):
                    await link.introduced.wait()
            return _tried(link.status())
        finally:
            task.cancel()
            await asyncio.wait({task})

    def statuses(self) -> tuple[SensorStatus, ...]:
        """Return how the sensors stand, in the order of their choice; for any thread."""
        return tuple(link.status() for link in self._links)

    def _platform_ids(self) -> Collection[str]:
        return [link.choice.platform_id for link in self._links if link.choice.platform_id]


def _same(one: SensorChoice, other: SensorChoice) -> bool:
    if one.platform_id and other.platform_id:
        return one.platform_id.casefold() == other.platform_id.casefold()
    return one.name.casefold() == other.name.casefold()


def _tried(status: SensorStatus) -> Tried:
    return Tried(status.services, status.last, status.phase, status.text)


def _look_at(task: asyncio.Task[None]) -> None:
    if not task.cancelled() and (error := task.exception()) is not None:
        logger.error("A sensor is no longer followed.", exc_info=error)
