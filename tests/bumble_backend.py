"""A backend of bleak over bumble's software stack: real HCI, L2CAP, ATT and GATT without a radio.

:class:`VirtualStudio` has one computer and any number of virtual sensors. Its ``backend`` is what
the program takes instead of the operating system's Bluetooth.
"""

from __future__ import annotations

import asyncio
import uuid
from collections.abc import Awaitable
from typing import Any, TypeVar

from bleak.assigned_numbers import gatt_char_props_to_strs
from bleak.backends.adapter import BaseBleakAdapter
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.backends.client import BaseBleakClient
from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData, BaseBleakScanner
from bleak.backends.service import BleakGATTService, BleakGATTServiceCollection
from bleak.exc import (
    BleakBluetoothNotAvailableError,
    BleakBluetoothNotAvailableReason,
    BleakError,
    BleakGATTProtocolError,
)
from bumble.att import ATT_Error
from bumble.core import UUID, AdvertisingData, BaseError
from bumble.core import TimeoutError as BumbleTimeout
from bumble.device import Advertisement, Connection, Device, Peer
from bumble.hci import HCI_LE_Create_Connection_Cancel_Command
from virtual_sensor import VirtualAir, VirtualSensor, new_device

from posewatch.sensors.client import Backend

T = TypeVar("T")

_NAMES = (AdvertisingData.COMPLETE_LOCAL_NAME, AdvertisingData.SHORTENED_LOCAL_NAME)
_NUMBERS = (
    AdvertisingData.COMPLETE_LIST_OF_16_BIT_SERVICE_CLASS_UUIDS,
    AdvertisingData.INCOMPLETE_LIST_OF_16_BIT_SERVICE_CLASS_UUIDS,
)


class VirtualStudio:
    """A computer with Bluetooth, and what is in reach of it.

    Attributes:
        trouble: raised by each scan while it is set, as a stack that cannot be used does.
        copies: how often each notification is delivered; Linux delivers more after reconnects.
        linked: sensors to which another program on this computer holds a link.
        scans, opening: how many scans and attempts to connect run now; most: ever at a time.
    """

    def __init__(self) -> None:
        self.air = VirtualAir()
        self.sensors: list[VirtualSensor] = []
        self.trouble: Exception | None = None
        self.copies = 1
        self.linked: list[BLEDevice] = []
        self.busy = 0
        self.most_busy = 0
        self.n_asked: list[str] = []
        self.links: list[_Client] = []
        self.central: Device | None = None
        self.loop: asyncio.AbstractEventLoop | None = None
        own = {"studio": self}
        self.backend = Backend(
            type("Scanner", (_Scanner,), own),
            type("Client", (_Client,), own),
            type("Adapter", (_Adapter,), own),
        )

    def add(self, name: str, *services: int) -> VirtualSensor:
        """Add a sensor, which is still asleep."""
        address = f"F1:00:00:00:00:{len(self.sensors) + 1:02X}"
        self.sensors.append(VirtualSensor(self.air, name, address, *services))
        return self.sensors[-1]

    async def computer(self) -> Device:
        """The computer's Bluetooth, switched on when it is first used, on the loop that uses it."""
        if self.central is None:
            self.central = new_device(self.air, "computer", "F0:F0:F0:F0:F0:F0")
            self.loop = asyncio.get_running_loop()
            await self.central.power_on()
        return self.central

    async def switch_off(self) -> None:
        """Switch the computer's Bluetooth off: links end, scans are refused."""
        self.trouble = BleakBluetoothNotAvailableError(
            "No powered Bluetooth adapters found.", BleakBluetoothNotAvailableReason.POWERED_OFF
        )
        for link in [*self.links]:
            await link.disconnect()

    def switch_on(self) -> None:
        """Let Bluetooth be usable again."""
        self.trouble = None

    def begin_work(self) -> None:
        """Count a scan or an attempt to connect."""
        self.busy += 1
        self.most_busy = max(self.most_busy, self.busy)


class _Scanner(BaseBleakScanner):
    studio: VirtualStudio

    def __init__(self, callback: Any, service_uuids: Any, scanning_mode: Any, **_: Any) -> None:
        super().__init__(callback, service_uuids)

    async def start(self) -> None:
        if self.studio.trouble is not None:
            raise self.studio.trouble
        self.seen_devices = {}
        computer = await self.studio.computer()
        self.studio.begin_work()
        computer.on(Device.EVENT_ADVERTISEMENT, self._heard)
        await computer.start_scanning(active=True, filter_duplicates=False)

    async def stop(self) -> None:
        computer = await self.studio.computer()
        computer.remove_listener(Device.EVENT_ADVERTISEMENT, self._heard)
        await computer.stop_scanning()
        self.studio.busy -= 1

    def _heard(self, advertisement: Advertisement) -> None:
        name, services = None, []
        for kind, raw in advertisement.data.ad_structures:
            if kind in _NAMES:
                name = raw.decode()
            elif kind in _NUMBERS:
                pairs = (raw[i : i + 2] for i in range(0, len(raw), 2))
                services += [_long(UUID.from_bytes(pair)) for pair in pairs]
        if not self.is_allowed_uuid(services):
            return
        data = AdvertisementData(name, {}, {}, services, None, advertisement.rssi, ())
        key = advertisement.address.to_string(False)
        device = self.create_or_update_device(key, key, name, advertisement.address, data)
        self.call_detection_callbacks(device, data)


class _Adapter(BaseBleakAdapter):
    studio: VirtualStudio

    @classmethod
    async def get(cls, **_: Any) -> _Adapter:
        if cls.studio.trouble is not None:
            raise cls.studio.trouble
        return cls()

    async def get_connected_devices(self, service_uuids: frozenset[str]) -> list[BLEDevice]:
        return self.studio.linked


class _Client(BaseBleakClient):
    studio: VirtualStudio

    def __init__(self, device: Any, *, disconnected_callback: Any, timeout: float, **_: Any):
        super().__init__(device, disconnected_callback=disconnected_callback, timeout=timeout)
        self._device: BLEDevice = device
        self._link: Connection | None = None
        self._peer: Peer | None = None
        self._asked: dict[int, Any] = {}

    @property
    def name(self) -> str:
        return self._device.name or self.address

    @property
    def mtu_size(self) -> int:
        return 23 if self._link is None else self._link.att_mtu

    @property
    def is_connected(self) -> bool:
        return self._link is not None

    async def connect(self, pair: bool, **_: Any) -> None:
        if self.studio.trouble is not None:
            raise self.studio.trouble
        computer = await self.studio.computer()
        self.studio.begin_work()
        try:
            self._link = await computer.connect(self._device.details, timeout=self._timeout)
            self._link.on(Connection.EVENT_DISCONNECTION, self._ended)
            self._peer = Peer(self._link)
            self.studio.links.append(self)
            await self._discover(self._peer)
        except asyncio.CancelledError:
            await computer.send_sync_command(HCI_LE_Create_Connection_Cancel_Command())
            await self.disconnect()
            raise
        except (BaseError, ATT_Error, BumbleTimeout) as error:
            await self.disconnect()
            raise BleakError(repr(error)) from error
        finally:
            self.studio.busy -= 1

    async def _discover(self, peer: Peer) -> None:
        found = BleakGATTServiceCollection()
        await peer.request_mtu(247)
        for service in await peer.discover_services():
            ours = BleakGATTService(service, service.handle, _long(service.uuid))
            found.add_service(ours)
            for one in await service.discover_characteristics():
                await one.discover_descriptors()
                how = list(gatt_char_props_to_strs(int(one.properties)))
                found.add_characteristic(
                    BleakGATTCharacteristic(
                        one, one.handle - 1, _long(one.uuid), how, lambda: self.mtu_size - 3, ours
                    )
                )
        self.services = found

    def _ended(self, _: int) -> None:
        self._link = self._peer = self.services = None
        if self in self.studio.links:
            self.studio.links.remove(self)
        if self._disconnected_callback is not None:
            self._disconnected_callback()

    async def disconnect(self) -> None:
        if self._link is not None:
            try:
                await self._link.disconnect()
            finally:
                # A stack forgets the link whatever the other side says to it.
                if self._link is not None:
                    self._ended(0)

    async def start_notify(self, characteristic: Any, callback: Any, **_: Any) -> None:
        if characteristic.handle in self._asked:
            raise BleakError("asked twice")

        def came(value: bytes) -> None:
            for _ in range(self.studio.copies):
                callback(bytearray(value))

        self._asked[characteristic.handle] = came
        self.studio.n_asked.append(characteristic.uuid[4:8])
        peer = self._peer_or_raise()
        await self._ask(peer.subscribe(characteristic.obj, came))

    async def read_gatt_char(self, characteristic: Any, **_: Any) -> bytearray:
        peer = self._peer_or_raise()
        return bytearray(await self._ask(peer.read_value(characteristic.obj.handle)))

    def _peer_or_raise(self) -> Peer:
        if self._peer is None:
            raise BleakError("not connected")
        return self._peer

    async def _ask(self, call: Awaitable[T]) -> T:
        try:
            return await call
        except ATT_Error as error:
            raise BleakGATTProtocolError(int(error.error_code)) from error
        except (BaseError, BumbleTimeout) as error:
            raise BleakError(repr(error)) from error

    async def pair(self, *_: Any, **__: Any) -> None:
        raise NotImplementedError

    async def unpair(self) -> None:
        raise NotImplementedError

    async def stop_notify(self, characteristic: Any) -> None:
        raise NotImplementedError

    async def read_gatt_descriptor(self, descriptor: Any, **_: Any) -> bytearray:
        raise NotImplementedError

    async def write_gatt_char(self, characteristic: Any, data: Any, response: bool) -> None:
        peer = self._peer_or_raise()
        await self._ask(peer.write_value(characteristic.obj, bytes(data), with_response=response))

    async def write_gatt_descriptor(self, descriptor: Any, data: Any) -> None:
        raise NotImplementedError


def _long(number: UUID) -> str:
    return str(uuid.UUID(bytes=bytes(reversed(number.to_bytes(force_128=True)))))
