"""What the client does on Linux's own Bluetooth: run inside the virtual machine of run_vhci.sh.

The kernel's controller is bumble's, behind /dev/vhci; virtual sensors share its air. The client is
the one that people run, with its own limits, on bleak's Linux backend and a real bluetoothd.
"""

from __future__ import annotations

import asyncio
import logging
import os
import sys
import time
import traceback
from collections import Counter
from collections.abc import Awaitable, Callable
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[1])]

from bumble.hci import (  # noqa: E402
    Address,
    HCI_LE_Connection_Complete_Event,
    HCI_LE_Enhanced_Connection_Complete_Event,
)
from bumble.transport import open_transport  # noqa: E402
from virtual_sensor import (  # noqa: E402
    HEART_RATE,
    POWER,
    POWER_MEASUREMENT,
    RATE_MEASUREMENT,
    AirController,
    VirtualAir,
    VirtualSensor,
    beating_heart,
    pedalling_power,
)

from posewatch.core.records import SourceState  # noqa: E402
from posewatch.core.sensor_link import Phase  # noqa: E402
from posewatch.core.sensor_records import Packet  # noqa: E402
from posewatch.core.sensor_source import SensorEvent  # noqa: E402
from posewatch.sensing import LiveSensors  # noqa: E402

EVERY_S = 0.25


def say(text: str) -> None:
    print(text, flush=True)  # noqa: T201


async def eventually(condition: Callable[[], object], within_s: float, what: str) -> float:
    """Wait for something; return how long it took."""
    begun_s = time.monotonic()
    while not condition():
        if time.monotonic() - begun_s > within_s:
            raise AssertionError(f"not within {within_s:g} s: {what}")
        await asyncio.sleep(0.02)
    return time.monotonic() - begun_s


class KernelController(AirController):
    """The controller that the kernel drives.

    bumble 0.0.236 never sends the enhanced event for a new connection. The kernel, which asked for
    it, waits 4 s, gives the connection up, and then cannot end it any more.
    """

    def send_hci_packet(self, packet: object) -> None:
        if isinstance(packet, HCI_LE_Connection_Complete_Event) and self.le_event_mask >> 9 & 1:
            packet = HCI_LE_Enhanced_Connection_Complete_Event(
                status=packet.status,
                connection_handle=packet.connection_handle,
                role=packet.role,
                peer_address_type=packet.peer_address_type,
                peer_address=packet.peer_address,
                local_resolvable_private_address=Address.ANY_RANDOM,
                peer_resolvable_private_address=Address.ANY_RANDOM,
                connection_interval=packet.connection_interval,
                peripheral_latency=packet.peripheral_latency,
                supervision_timeout=packet.supervision_timeout,
                central_clock_accuracy=packet.central_clock_accuracy,
            )
        super().send_hci_packet(packet)


async def bluetooth(power: str) -> None:
    """Switch the kernel's Bluetooth on or off; the air's loop must go on meanwhile."""
    switch = await asyncio.create_subprocess_exec("bluetoothctl", "power", power)
    await asyncio.wait_for(switch.wait(), 20.0)


class Studio:
    """The kernel's Bluetooth, two sensors, and the client."""

    def __init__(self, air: VirtualAir) -> None:
        self.air = air
        self.crank = VirtualSensor(air, "Crank", "F1:00:00:00:00:01", POWER)
        self.strap = VirtualSensor(air, "Strap", "F1:00:00:00:00:02", HEART_RATE)
        self.sensors = LiveSensors()
        self.events: list[SensorEvent] = []

    async def begin(self) -> None:
        await self.crank.wake()
        await self.strap.wake()
        self.crank.start(POWER_MEASUREMENT, pedalling_power, EVERY_S)
        self.strap.start(RATE_MEASUREMENT, beating_heart, EVERY_S)
        self.sensors.begin(0)

    def fetch(self) -> None:
        self.events += self.sensors.taken(2**62)

    def phase(self, sensor: VirtualSensor) -> Phase | None:
        self.fetch()
        for one in self.sensors.statuses():
            if one.choice.platform_id == sensor.address:
                return one.phase
        return None

    def values(self, sensor: VirtualSensor, characteristic: str) -> list[bytes]:
        self.fetch()
        return [
            one.data
            for one in self.events
            if isinstance(one, Packet)
            and (one.device, one.characteristic) == (sensor.address, characteristic)
        ]

    async def comes_to(self, sensor: VirtualSensor, phase: Phase, within_s: float) -> None:
        took_s = await eventually(
            lambda: self.phase(sensor) is phase, within_s, f"{sensor.name} {phase}"
        )
        say(f"  {sensor.name} is {phase} after {took_s:.1f} s")

    async def more(self, n: int = 6) -> None:
        before = len(self.values(self.crank, "2A63"))
        await eventually(lambda: len(self.values(self.crank, "2A63")) >= before + n, 10.0, "values")

    def check_stream(self) -> None:
        came = Counter(self.values(self.crank, "2A63"))
        twice = came - Counter(self.crank.sent)
        assert came, "nothing came"
        assert not twice, f"came more often than sent: {twice}"


async def found_and_live(studio: Studio) -> None:
    survey = await asyncio.wrap_future(studio.sensors.survey(5.0))
    for one in survey.seen:
        say(f"  {one.name} {one.platform_id} {one.rssi_dbm} dBm {sorted(one.services)}")
    assert {one.name for one in survey.seen} == {"Crank", "Strap"}, survey
    for one in survey.seen:
        studio.sensors.use(one.choice)
    await studio.comes_to(studio.crank, Phase.LIVE, 20.0)
    await studio.comes_to(studio.strap, Phase.LIVE, 20.0)
    await eventually(lambda: studio.values(studio.crank, "2A19") == [b"\x57"], 5.0, "battery")
    await studio.more()


async def ended_and_back(studio: Studio) -> None:
    for _ in range(3):
        await studio.crank.end_links()
        await eventually(lambda: studio.phase(studio.crank) is not Phase.LIVE, 5.0, "loss")
        await studio.comes_to(studio.crank, Phase.LIVE, 10.0)
        before, sent = len(studio.values(studio.crank, "2A63")), len(studio.crank.sent)
        await asyncio.sleep(2.0)
        came = len(studio.values(studio.crank, "2A63")) - before
        say(f"  {len(studio.crank.sent) - sent} sent, {came} came")
    repeats = [one.n_repeats for one in studio.sensors.statuses()]
    say(f"  left out as repeats: {repeats}")


async def out_of_reach_and_back(studio: Studio) -> None:
    await studio.crank.leave()
    await eventually(lambda: studio.phase(studio.crank) is Phase.LOST, 10.0, "loss")
    await asyncio.sleep(12.0)
    studio.crank.come_back()
    await studio.comes_to(studio.crank, Phase.LIVE, 5.0)
    await studio.more()


async def silent_and_back(studio: Studio) -> None:
    before = len(studio.values(studio.crank, "2A65"))
    studio.crank.stop(POWER_MEASUREMENT)
    await studio.comes_to(studio.crank, Phase.SILENT, 5.0)
    await eventually(
        lambda: len(studio.values(studio.crank, "2A65")) > before, 15.0, "a new connection"
    )
    studio.crank.start(POWER_MEASUREMENT, pedalling_power, EVERY_S)
    await studio.comes_to(studio.crank, Phase.LIVE, 5.0)


async def adapter_off_and_on(studio: Studio) -> None:
    await bluetooth("off")
    await studio.comes_to(studio.crank, Phase.OFF, 15.0)
    await bluetooth("on")
    await studio.comes_to(studio.crank, Phase.LIVE, 15.0)
    await studio.comes_to(studio.strap, Phase.LIVE, 15.0)
    await studio.more()


async def let_go(studio: Studio) -> None:
    begun_s = time.monotonic()
    await asyncio.to_thread(studio.sensors.close)
    say(f"  closed in {time.monotonic() - begun_s:.2f} s")
    await eventually(lambda: studio.crank.n_links + studio.strap.n_links == 0, 5.0, "let go")


SCENARIOS: tuple[Callable[[Studio], Awaitable[None]], ...] = (
    found_and_live,
    ended_and_back,
    out_of_reach_and_back,
    silent_and_back,
    adapter_off_and_on,
    let_go,
)


async def main() -> int:
    async with await open_transport("vhci") as transport:
        air = VirtualAir()
        KernelController(
            "kernel", transport.source, transport.sink, air, public_address="F0:F0:F0:F0:F0:F0"
        )
        await asyncio.sleep(3.0)
        await bluetooth("on")
        studio = Studio(air)
        await studio.begin()
        for scenario in SCENARIOS:
            say(scenario.__name__)
            try:
                await asyncio.wait_for(scenario(studio), 90.0)
                studio.check_stream()
            except Exception:
                traceback.print_exc()
                for event in studio.events:
                    if isinstance(event, SourceState):
                        say(f"  {event.t_ns / 1e9:.1f} {event.text}")
                say(f"{scenario.__name__} failed")
                return 1
        say("LEVEL 2: all scenarios passed")
        return 0


if __name__ == "__main__":
    logging.basicConfig(format="    %(relativeCreated)d %(message)s")
    logging.getLogger("posewatch").setLevel(logging.INFO)
    status = asyncio.run(main())
    logging.shutdown()
    sys.stdout.flush()
    os._exit(status)
