"""Bluetooth sensors without a radio: GATT servers of bumble's stack in one piece of virtual air.

Written against bumble 0.0.236; where its virtual controller differs from a real one, a comment
says how that is made good here.
"""

from __future__ import annotations

import asyncio
import struct
from collections.abc import Callable
from contextlib import suppress

from bumble.att import ATT_Error, ErrorCode
from bumble.controller import Controller
from bumble.core import UUID, AdvertisingData
from bumble.device import Connection, Device
from bumble.gatt import Characteristic, CharacteristicValue, Service
from bumble.hci import (
    Address,
    HCI_ErrorCode,
    HCI_LE_Connection_Complete_Event,
    HCI_StatusReturnParameters,
)
from bumble.host import Host
from bumble.link import LocalLink
from bumble.transport.common import AsyncPipeSink

POWER, SPEED_AND_CADENCE, FITNESS_MACHINE, HEART_RATE = 0x1818, 0x1816, 0x1826, 0x180D
BATTERY, THERMOMETER = 0x180F, 0x1809
POWER_MEASUREMENT, POWER_VECTOR, POWER_FEATURE = 0x2A63, 0x2A64, 0x2A65
LOCATION, CSC_MEASUREMENT, BIKE_DATA, RATE_MEASUREMENT = 0x2A5D, 0x2A5B, 0x2AD2, 0x2A37
BATTERY_LEVEL = 0x2A19
TRAINER_POINT, TRAINER_STATUS, POWER_RANGE, METER_POINT = 0x2AD9, 0x2ADA, 0x2AD8, 0x2A66
#: These are written to and answer by indications.
_CONTROL_POINTS = (TRAINER_POINT, METER_POINT)

#: What each service has, and what is read there; None = its values only come by themselves.
_LAYOUT: dict[int, dict[int, bytes | None]] = {
    POWER: {
        POWER_MEASUREMENT: None,
        POWER_FEATURE: struct.pack("<I", 0x0008),  # crank revolutions
        LOCATION: b"\x05",  # left crank
        POWER_VECTOR: None,
        METER_POINT: None,
    },
    SPEED_AND_CADENCE: {CSC_MEASUREMENT: None, LOCATION: b"\x0c"},
    FITNESS_MACHINE: {
        BIKE_DATA: None,
        TRAINER_POINT: None,
        TRAINER_STATUS: None,
        POWER_RANGE: struct.pack("<hhH", 0, 400, 1),
    },
    HEART_RATE: {RATE_MEASUREMENT: None},
    BATTERY: {BATTERY_LEVEL: b"\x57"},
    THERMOMETER: {},
}
#: Between advertisements; real ones send every 20 to 1000 ms.
ADVERTISING_MS = 20.0
#: Until both ends of a broken link have noticed.
SUPERVISION_S = 0.1


class VirtualAir(LocalLink):
    """All that is in reach of each other."""

    def __init__(self) -> None:
        super().__init__()
        self.out_of_reach: set[Controller] = set()
        #: Heard by a scan, but they take no connection, as those whose only one is in use.
        self.refusing: set[Controller] = set()

    def owner(self, address: Address | None) -> Controller | None:
        """The controller of an address."""
        for one in self.controllers:
            if address in (one.random_address, one.public_address):
                return one
        return None

    def send_advertising_pdu(self, sender_controller: Controller, packet: object) -> None:
        gone = self.out_of_reach
        target = self.owner(getattr(packet, "advertiser_address", None))
        if sender_controller not in gone and target not in gone:
            super().send_advertising_pdu(sender_controller, packet)

    def send_acl_data(
        self,
        sender_controller: Controller,
        destination_address: Address,
        transport: int,
        data: bytes,
    ) -> None:
        to = self.find_le_controller(destination_address)
        link = sender_controller.le_connections.get(destination_address)
        if to is None or link is None or {sender_controller, to} & self.out_of_reach:
            return
        # bumble names the sender's random address even where the link is of the public one.
        asyncio.get_running_loop().call_soon(
            to.on_link_acl_data, link.self_address, transport, data
        )

    def send_ll_control_pdu(
        self, sender_address: Address, receiver_address: Address, packet: object
    ) -> None:
        if not {self.owner(sender_address), self.owner(receiver_address)} & self.out_of_reach:
            super().send_ll_control_pdu(sender_address, receiver_address, packet)

    def break_links(self, of: Controller) -> None:
        """Let both ends of all links of a controller notice that they hear nothing more."""
        for one in self.controllers:
            for link in [*one.le_connections.values()]:
                if one is of or self.owner(link.peer_address) is of:
                    one.on_le_disconnected(link, HCI_ErrorCode.CONNECTION_TIMEOUT_ERROR)


class AirController(Controller):
    def create_le_connection(self, peer_address: Address) -> None:
        # bumble's connects whether or not the other side lets it in.
        if self.link.owner(peer_address) not in self.link.refusing:
            super().create_le_connection(peer_address)

    def on_hci_le_create_connection_cancel_command(self, command: object) -> object:
        # bumble's says yes to this command, but goes on trying to connect.
        pending = self.pending_le_connection
        if pending is None:
            return HCI_StatusReturnParameters(HCI_ErrorCode.COMMAND_DISALLOWED_ERROR)
        self.pending_le_connection = None
        self.send_hci_packet(
            HCI_LE_Connection_Complete_Event(
                status=HCI_ErrorCode.UNKNOWN_CONNECTION_IDENTIFIER_ERROR,
                connection_handle=0,
                role=0,
                peer_address_type=pending.peer_address.address_type,
                peer_address=pending.peer_address,
                connection_interval=0,
                peripheral_latency=0,
                supervision_timeout=0,
                central_clock_accuracy=0,
            )
        )
        return HCI_StatusReturnParameters(HCI_ErrorCode.SUCCESS)


def new_device(air: VirtualAir, name: str, address: str) -> Device:
    """Return a device that is in the air but not switched on."""
    controller = AirController(name, link=air, public_address=address)
    device = Device(name, Address(address), host=Host(controller, AsyncPipeSink(controller)))
    device.le_enabled, device.classic_enabled = True, False
    return device


def pedalling_power(n: int) -> bytes:
    """The n-th power measurement of a crank that turns: 200 W and n, a revolution each."""
    return struct.pack("<HhHH", 0x20, 200 + n % 50, n % 65536, n * 683 % 65536)


def pedalling_cadence(n: int) -> bytes:
    """The n-th speed and cadence measurement of a crank that turns."""
    return struct.pack("<BHH", 0x02, n % 65536, n * 683 % 65536)


def bike_data(n: int) -> bytes:
    """The n-th record of a trainer: speed, cadence, power."""
    return struct.pack("<HHHh", 0x0044, 3000, 180, 150 + n % 50)


def beating_heart(n: int) -> bytes:
    """The n-th heart rate."""
    return struct.pack("<BB", 0, 120 + n % 20)


class VirtualSensor:
    """A sensor with some of the services above, switched on by :meth:`wake`."""

    def __init__(self, air: VirtualAir, name: str, address: str, *services: int) -> None:
        self.name, self.address = name, address
        self.sent: list[bytes] = []
        #: What was written to its control points, in order.
        self.written: list[bytes] = []
        #: Gives the answer to what is written, None = none; may raise ATT_Error.
        self.answer: Callable[[bytes], bytes | None] = lambda _: None
        self._answering: set[asyncio.Task[None]] = set()
        self._air = air
        self._device = new_device(air, name, address)
        self._controller = next(one for one in air.controllers if one.name == name)
        self._on = False
        self._sending: dict[int, asyncio.Task[None]] = {}
        self._values: dict[int, Characteristic] = {}
        for service in (*services, BATTERY):
            parts = [self._part(number, value) for number, value in _LAYOUT[service].items()]
            self._device.add_service(Service(UUID.from_16_bits(service), parts))
        numbers = b"".join(struct.pack("<H", service) for service in services)
        kind = AdvertisingData.INCOMPLETE_LIST_OF_16_BIT_SERVICE_CLASS_UUIDS
        # The name is in here too: bumble sends this again for the scan response.
        data = [(AdvertisingData.FLAGS, b"\x06"), (kind, numbers)]
        data.append((AdvertisingData.COMPLETE_LOCAL_NAME, name.encode()))
        self._device.advertising_data = bytes(AdvertisingData(data))

    def _part(self, number: int, value: bytes | None) -> Characteristic:
        def read(_: Connection) -> bytes:
            if value is None:  # bumble leaves it to the value to refuse
                raise ATT_Error(ErrorCode.READ_NOT_PERMITTED)
            return value

        def write(_: Connection, data: bytes) -> None:
            self._take_order(number, data)

        how, may = Characteristic.Properties, Characteristic.Permissions
        if number in _CONTROL_POINTS:
            uses, rights = how.WRITE | how.INDICATE, may.READABLE | may.WRITEABLE
        else:
            uses, rights = how.NOTIFY if value is None else how.READ, may.READABLE
        part = Characteristic(
            UUID.from_16_bits(number), uses, rights, CharacteristicValue(read=read, write=write)
        )
        self._values[number] = part
        return part

    def _take_order(self, number: int, data: bytes) -> None:
        self.written.append(data)
        answer = self.answer(data)
        if answer is not None:
            call = self._device.indicate_subscribers(self._values[number], answer)
            task = asyncio.get_running_loop().create_task(call)
            self._answering.add(task)
            task.add_done_callback(self._answering.discard)

    async def wake(self) -> None:
        """Switch it on, or let it wake up: it can be found and connected."""
        if not self._on:
            await self._device.power_on()
            self._on = True
        if self._device.legacy_advertiser is None and self._device.legacy_advertising_set is None:
            await self._device.start_advertising(
                auto_restart=True,
                advertising_interval_min=ADVERTISING_MS,
                advertising_interval_max=ADVERTISING_MS,
            )

    async def sleep(self) -> None:
        """End its links and be heard no more, as sensors do after a rest."""
        await self._device.stop_advertising()
        await self.end_links()

    async def leave(self) -> None:
        """Go out of reach; the ends of a link notice it a little later."""
        self._air.out_of_reach.add(self._controller)
        await asyncio.sleep(SUPERVISION_S)
        self._air.break_links(self._controller)

    def fade(self) -> None:
        """Go out of reach without any end of the link ever noticing."""
        self._air.out_of_reach.add(self._controller)

    def come_back(self) -> None:
        """Be in reach again."""
        self._air.out_of_reach.discard(self._controller)

    def refuse(self, whether: bool) -> None:
        """Be heard but let nobody in."""
        (self._air.refusing.add if whether else self._air.refusing.discard)(self._controller)

    async def end_links(self) -> None:
        """End its links, and go on to be found."""
        for link in [*self._device.connections.values()]:
            await link.disconnect()

    async def send(self, number: int, data: bytes) -> None:
        """Send a value to whoever asked for it."""
        if self.is_asked(number):
            self.sent.append(data)
        await self._device.notify_subscribers(self._values[number], data)

    def start(self, number: int, data: Callable[[int], bytes], every_s: float) -> None:
        """Send values from now on: data(n) is the n-th."""

        async def go_on() -> None:
            n = 0
            while True:
                n += 1
                with suppress(Exception):  # the link may break under it
                    await self.send(number, data(n))
                await asyncio.sleep(every_s)

        self.stop(number)
        self._sending[number] = asyncio.create_task(go_on())

    def stop(self, number: int) -> None:
        """Send no more values of that kind; the link stays."""
        if number in self._sending:
            self._sending.pop(number).cancel()

    def is_asked(self, number: int) -> bool:
        """Whether somebody asked for these values."""
        handle = self._values[number].handle
        asked = self._device.gatt_server.subscribers.values()
        return any(one.get(handle, b"\0\0")[0] & 1 for one in asked)

    @property
    def advertised(self) -> Address:
        """The address that others connect to."""
        return self._controller.random_address

    @property
    def n_links(self) -> int:
        """How many are connected to it."""
        return len(self._device.connections)
