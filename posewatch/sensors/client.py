"""This computer's Bluetooth: scans and connections, each call with a time limit.

The only file that imports bleak. Everything runs on one asyncio loop. What goes wrong comes as
``RadioBlocked`` (Bluetooth itself cannot be used) or ``CallFailed`` (this call failed).
"""

from __future__ import annotations

import asyncio
import logging
import sys
from collections.abc import AsyncIterator, Callable, Coroutine
from contextlib import asynccontextmanager
from dataclasses import dataclass
from typing import Any, TypeVar

from bleak import BleakAdapter, BleakClient, BleakScanner
from bleak.backends.adapter import BaseBleakAdapter
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.backends.client import BaseBleakClient
from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData, BaseBleakScanner
from bleak.exc import (
    BleakBluetoothNotAvailableError,
    BleakBluetoothNotAvailableReason,
    BleakDBusError,
    BleakError,
)
from bleak.uuids import normalize_uuid_16

from posewatch.core.sensor_choice import NUMBERS, Service, Sighting
from posewatch.core.sensor_link import Phase
from posewatch.sensors.calls import CallFailed, CallLimits, RadioBlocked, ended

logger = logging.getLogger(__name__)

T = TypeVar("T")

#: What bleak gives for a signal strength that is not known.
NO_RSSI_DBM = -127

_SERVICES = {normalize_uuid_16(int(number, 16)): one for one, number in NUMBERS.items()}
_BASE = normalize_uuid_16(0)

_REASONS = {
    BleakBluetoothNotAvailableReason.NO_BLUETOOTH: Phase.NO_ADAPTER,
    BleakBluetoothNotAvailableReason.NO_BLE_CENTRAL_ROLE: Phase.NO_ADAPTER,
    BleakBluetoothNotAvailableReason.POWERED_OFF: Phase.OFF,
    BleakBluetoothNotAvailableReason.DENIED_BY_USER: Phase.NOT_ALLOWED,
    BleakBluetoothNotAvailableReason.DENIED_BY_SYSTEM: Phase.NOT_ALLOWED,
    BleakBluetoothNotAvailableReason.DENIED_BY_UNKNOWN: Phase.NOT_ALLOWED,
    BleakBluetoothNotAvailableReason.UNKNOWN: Phase.OFF,
}
#: D-Bus errors that tell of Bluetooth as a whole (BlueZ and D-Bus specifications).
_DBUS_REASONS = {
    "org.bluez.Error.NotReady": Phase.OFF,
    "org.bluez.Error.NotPermitted": Phase.NOT_ALLOWED,
    "org.freedesktop.DBus.Error.AccessDenied": Phase.NOT_ALLOWED,
    "org.freedesktop.DBus.Error.ServiceUnknown": Phase.NO_SERVICE,
    "org.freedesktop.DBus.Error.NameHasNoOwner": Phase.NO_SERVICE,
}


@dataclass(frozen=True, slots=True)
class Backend:
    """Which Bluetooth to use; None = the operating system's own."""

    scanner: type[BaseBleakScanner] | None = None
    client: type[BaseBleakClient] | None = None
    adapter: type[BaseBleakAdapter] | None = None


#: The operating system's own Bluetooth.
SYSTEM = Backend()


class Radio:
    """Scans and opens connections; devices are handed over from the last scan, never by address."""

    def __init__(self, backend: Backend | None = None, limits: CallLimits | None = None) -> None:
        self.limits = limits or CallLimits()
        self._backend = backend or SYSTEM
        self._devices: dict[str, BLEDevice] = {}

    @asynccontextmanager
    async def scanning(self, saw: Callable[[Sighting], None]) -> AsyncIterator[None]:
        """Scan for sensors while inside; saw is called each time one is heard.

        Raises:
            RadioBlocked: Bluetooth cannot be used.
            CallFailed: the scan could not begin.
        """
        self._devices.clear()

        def heard(device: BLEDevice, data: AdvertisementData) -> None:
            self._devices[device.address] = device
            services = frozenset(_SERVICES[one] for one in data.service_uuids if one in _SERVICES)
            rssi_dbm = None if data.rssi == NO_RSSI_DBM else data.rssi
            name = data.local_name or device.name or ""
            saw(Sighting(name, device.address, rssi_dbm, services))

        with _translated():
            scanner = BleakScanner(heard, [*_SERVICES], backend=self._backend.scanner)
        await limited(scanner.start(), self.limits.scan_call_s)
        try:
            yield
        finally:
            try:
                await limited(scanner.stop(), self.limits.scan_call_s)
            except (CallFailed, RadioBlocked) as error:
                logger.warning("The scan did not end well: %s", error)

    async def linked(self) -> list[Sighting]:
        """Return sensors to which this computer has a link; a scan may not hear them.

        Raises:
            RadioBlocked: Bluetooth cannot be used.
            CallFailed: it could not be found out.
        """
        return await limited(self._linked(), self.limits.call_s)

    async def _linked(self) -> list[Sighting]:
        try:
            adapter = await BleakAdapter.get(backend=self._backend.adapter)
        except NotImplementedError:
            return []
        devices = await adapter.get_connected_devices([*_SERVICES])
        self._devices.update({device.address: device for device in devices})
        return [
            Sighting(device.name or "", device.address, None, frozenset(), elsewhere=True)
            for device in devices
        ]

    async def open(self, platform_id: str, ended: Callable[[], None]) -> Connection:
        """Connect to a sensor of the last scan; ended is called when the link ends by itself.

        Raises:
            RadioBlocked: Bluetooth cannot be used.
            CallFailed: it was not seen, did not answer in time, or refused. Nothing is left open.
        """
        device = self._devices.get(platform_id)
        if device is None:
            raise CallFailed(f"{platform_id} was not seen by the last scan")
        client = BleakClient(device, lambda _: ended(), backend=self._backend.client)
        connection = Connection(client, self.limits)
        try:
            await limited(client.connect(), self.limits.open_s)
        except BaseException:
            await connection.close()
            raise
        return connection


class Connection:
    """One connection to one sensor; a new one is made after each loss."""

    def __init__(self, client: BleakClient, limits: CallLimits) -> None:
        self._client = client
        self._limits = limits
        self._listened: set[str] = set()

    def services(self) -> frozenset[Service]:
        """Return what the sensor offers."""
        services = self._client.services
        return frozenset(_SERVICES[one.uuid] for one in services if one.uuid in _SERVICES)

    async def listen(self, characteristic: str, came: Callable[[bytes], None]) -> bool:
        """Ask once for the values of a characteristic; False = the sensor has none that come.

        Raises:
            RadioBlocked, CallFailed: the sensor could not be asked.
        """
        found = self._find(characteristic)
        if found is None or not {"notify", "indicate"} & set(found.properties):
            return False
        if characteristic in self._listened:
            raise AssertionError(f"{characteristic} is listened to already")
        self._listened.add(characteristic)

        def on_value(_: BleakGATTCharacteristic, data: bytearray) -> None:
            came(bytes(data))

        await limited(self._client.start_notify(found, on_value), self._limits.call_s)
        return True

    async def read(self, characteristic: str, probe: bool = False) -> bytes | None:
        """Read a characteristic; None = the sensor has none that can be read.

        Raises:
            RadioBlocked, CallFailed: the sensor did not answer.
        """
        found = self._find(characteristic)
        if found is None or "read" not in found.properties:
            return None
        limit_s = self._limits.probe_s if probe else self._limits.call_s
        return bytes(await limited(self._client.read_gatt_char(found), limit_s))

    async def write(self, characteristic: str, data: bytes) -> None:
        """Write to a characteristic and wait until the sensor has taken it.

        Raises:
            RadioBlocked, CallFailed: it has none that can be written, refused, or did not answer.
        """
        found = self._find(characteristic)
        if found is None or "write" not in found.properties:
            raise CallFailed(f"the sensor has no {characteristic} that can be written")
        call = self._client.write_gatt_char(found, data, response=True)
        await limited(call, self._limits.probe_s)

    async def close(self) -> None:
        """Let go of the sensor, also after it is gone: else the stack keeps old subscriptions."""
        try:
            await limited(self._client.disconnect(), self._limits.close_s)
        except (CallFailed, RadioBlocked) as error:
            logger.warning("A sensor's link did not close well: %s", error)

    def _find(self, characteristic: str) -> BleakGATTCharacteristic | None:
        if not self._client.is_connected:
            raise CallFailed("the link has ended")
        # By hand: two services of one sensor may have a characteristic in common (2A5D).
        for service in self._client.services:
            for one in service.characteristics:
                if one.uuid == f"0000{characteristic.lower()}{_BASE[8:]}":
                    return one
        return None


async def limited(call: Coroutine[Any, Any, T], limit_s: float) -> T:
    """Wait for a call, but no longer than limit_s; one that will not be cancelled is left behind.

    Raises:
        RadioBlocked, CallFailed: what the call raised, or that it took too long.
    """
    call_ended = await ended(call, limit_s)
    with _translated():
        return call_ended.result()


class _translated:
    """Turns what bleak and its stack raise into RadioBlocked and CallFailed."""

    def __enter__(self) -> None:
        return None

    def __exit__(self, kind: object, error: BaseException | None, trace: object) -> None:
        if error is None or isinstance(error, RadioBlocked | CallFailed | AssertionError):
            return
        if isinstance(error, BleakBluetoothNotAvailableError):
            raise RadioBlocked(_REASONS[error.reason], str(error.args[0])) from error
        if isinstance(error, BleakDBusError) and error.dbus_error in _DBUS_REASONS:
            raise RadioBlocked(_DBUS_REASONS[error.dbus_error], str(error)) from error
        if isinstance(error, TimeoutError | asyncio.CancelledError):
            raise CallFailed("no answer in time") from error
        if isinstance(error, OSError):
            # Windows has its service always; there the radio is off (from memory).
            phase = Phase.OFF if sys.platform == "win32" else Phase.NO_SERVICE
            raise RadioBlocked(phase, str(error)) from error
        if isinstance(error, BleakError | EOFError):
            raise CallFailed(str(error) or type(error).__name__) from error
